"""The keys of rules.toml, one list a table; docs/rules.md is compared with them."""

from bolewalk.model.settings_keys import Key
from bolewalk.model.words import OWNERS, WORK_KINDS
from bolewalk.rules.table import ACTS, PARTIES, READINGS, SEASON_KINDS

__all__ = ["HEAD_KEYS", "LIST_KEYS", "TABLE_KEYS"]

_MONEY_HIGH = 1e9
COUNTED = ("calendar", "working")
_ENTRY = (
    Key("id", "text", required=True),
    Key("citation", "text", required=True),
)
_SPECIES = (Key("species", "texts"), Key("except", "texts"))

HEAD_KEYS: tuple[Key, ...] = (
    Key("place", "text", required=True),
    Key("source", "text", required=True),
    Key("checked", "date", required=True),
    Key("units", "text", required=True, choices=("imperial", "metric")),
    Key("version", "text"),
    Key("example", "flag"),
    Key("minor_digits", "whole", high=3),
    Key("holidays", "dates"),
)
"""[table]: whose rules these are, where they were read and when."""

LIST_KEYS: dict[str, tuple[Key, ...]] = {
    "rule": (
        *_ENTRY,
        Key("place", "text"),
        Key("checked", "date"),
        *_SPECIES,
        Key("native_only", "flag"),
        Key("planted_exempt", "flag"),
        Key("dead_exempt", "flag"),
        Key("size.measure", "text", choices=("diameter", "girth")),
        Key("size.at", "number", high=10),
        Key("size.stems", "text", choices=(*READINGS, "unknown")),
        Key("size.from", "number", high=5000),
        Key("size.below", "number", high=5000),
        Key("size.multi_from", "number", high=5000),
        Key("size.heritage", "number", high=5000),
        Key("grove.trees", "whole", low=2, high=10000),
        Key("grove.within", "number", high=10000),
        Key("grove.from", "number", high=5000),
        Key("height_from", "number", high=500),
        Key("zone", "text"),
        Key("in_zone", "text", choices=("yes", "no", "unknown")),
        Key("owner", "texts", choices=OWNERS),
        Key("acts", "texts", required=True, choices=ACTS),
        Key("prune_over_pct", "number", high=100),
        Key("roots_over_pct", "number", high=100),
        Key("permit.from", "text"),
        Key("permit.name", "text"),
        Key("permit.fee", "money", high=_MONEY_HIGH),
        Key("permit.wait_days", "whole", high=1000),
        Key("permit.counted", "text", choices=COUNTED),
        Key("permit.expires_days", "whole", low=1, high=10000),
        Key("permit.author", "text"),
        Key("permit.hearing_over", "whole", high=1000),
        Key("permit.hearing_wait_days", "whole", high=1000),
        Key("replacement.ratio", "whole", low=1, high=100),
        Key("replacement.stock", "text"),
        Key("replacement.like_for_like", "flag"),
        Key("bond.years", "whole", high=100),
        Key("bond.amount", "money", high=_MONEY_HIGH),
        Key("protected_zone.dripline_plus", "number", high=100),
        Key("protected_zone.least", "number", high=100),
        Key("protected_zone.trunk_times", "number", high=100),
        Key("withheld_years", "whole", high=100),
        Key("penalty", "text"),
        Key("emergency", "text"),
    ),
    "season": (
        *_ENTRY,
        Key("place", "text"),
        Key("checked", "date"),
        Key("kind", "text", required=True, choices=SEASON_KINDS),
        Key("from", "text", required=True),
        Key("to", "text", required=True),
        Key("acts", "texts", required=True, choices=ACTS),
        *_SPECIES,
        Key("only", "flag"),
        Key("unless", "text"),
        Key("buffer", "number", high=10000),
    ),
    "wire": (
        *_ENTRY,
        Key("who", "text", required=True),
        Key("work", "text"),
        Key("kv", "number", high=1000),
        Key("clearance", "number", high=200),
        Key("wait_days", "whole", high=1000),
        Key("counted", "text", choices=COUNTED),
    ),
    "fire": (
        *_ENTRY,
        Key("of", "texts", required=True, choices=WORK_KINDS),
        Key("within", "number", required=True, high=1000),
        Key("measured_from", "text", choices=("trunk", "crown")),
        Key("asks", "text", required=True, choices=("remove", "prune")),
        *_SPECIES,
        Key("what", "text"),
    ),
    "owner": (
        Key("trees", "texts", required=True),
        Key("name", "text", required=True),
        Key("as", "text", required=True, choices=PARTIES),
    ),
    "consent": (
        Key("tree", "text", required=True),
        Key("by", "text", required=True),
        Key("as", "text", required=True, choices=PARTIES),
        Key("acts", "texts", required=True, choices=ACTS),
        Key("date", "date", required=True),
        Key("how", "text", required=True),
        Key("file", "text"),
    ),
    "granted": (
        Key("rule", "text", required=True),
        Key("date", "date", required=True),
        Key("trees", "texts"),
        Key("number", "text"),
        Key("until", "date"),
    ),
    "line": (
        Key("tree", "text", required=True),
        Key("distance", "number", low=-1000, high=1000),
        Key("growth", "number", high=50),
        Key("basis", "text", choices=("surveyed", "fence", "told")),
    ),
}
"""Lists of tables: [[rule]], [[season]], ..."""

TABLE_KEYS: dict[str, tuple[Key, ...]] = {
    "digging": (
        Key("citation", "text", required=True),
        Key("notice_days", "whole", required=True, high=100),
        Key("expires_days", "whole", high=1000),
        Key("hand_within", "number", high=100),
        Key("call", "text"),
    ),
    "deposit": (
        Key("citation", "text", required=True),
        Key("max", "money", high=_MONEY_HIGH),
        Key("pct", "number", high=100),
    ),
}
"""Tables that stand once."""
