"""The recorded walk: cues in, a draft tree table with the moments behind it out."""
