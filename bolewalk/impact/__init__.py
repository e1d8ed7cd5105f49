"""Works against trees: root loss, crown clash, nearest cut, missing facts, verdict."""
