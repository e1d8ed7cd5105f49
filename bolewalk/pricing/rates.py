"""The firm's own rates: `rates.toml`, checked and turned into integers of minor units."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

from bolewalk.model.problems import Problem
from bolewalk.model.settings_keys import Key, read_keys

__all__ = [
    "GEAR_NAMES", "MATERIALS", "RATE_KEYS", "ROLES", "Contract", "Disposal", "Gear", "Permit",
    "Rates", "Truck", "read_rates",
]  # fmt: skip

ROLES = ("climber", "ground", "operator", "arborist")
GEAR_NAMES = ("chipper", "lift", "crane", "grinder", "loader", "air_tool")
MATERIALS = ("brush", "chips", "logs", "grindings", "soil")
_TASK_KEYS = ("set_up", "cut", "handle", "spread_pct", "correction")
_TASKS = (
    "remove_climb", "remove_lift", "remove_crane", "remove_fell",
    "prune_clean", "prune_thin", "prune_raise", "prune_reduce", "prune_clearance",
    "prune_structural", "prune_restoration", "prune_palm", "prune_palm_lift",
    "grind", "cable", "air_dig", "root_prune", "plant", "water",
    "report", "attend", "monitor", "inspect",
)  # fmt: skip
_RATE_HIGH = 1e9

RATE_KEYS: tuple[Key, ...] = (
    Key("currency", "text", required=True),
    Key("minor_digits", "whole", high=3),
    Key("units.length", "text", required=True, choices=("ft", "m")),
    Key("units.volume", "text", required=True, choices=("yd3", "m3")),
    Key("units.weight", "text", required=True, choices=("lb", "short_ton", "kg", "t")),
    Key("crew.climber", "money", required=True, high=_RATE_HIGH),
    Key("crew.ground", "money", required=True, high=_RATE_HIGH),
    Key("crew.operator", "money", high=_RATE_HIGH),
    Key("crew.arborist", "money", high=_RATE_HIGH),
    Key("gear.chipper.per_hour", "money", high=_RATE_HIGH),
    Key("gear.*.per_hour", "money", high=_RATE_HIGH, names=GEAR_NAMES),
    Key("gear.*.per_day", "money", high=_RATE_HIGH, names=GEAR_NAMES),
    Key("gear.*.bring", "money", high=_RATE_HIGH, names=GEAR_NAMES),
    Key("gear.*.capacity", "number", high=1e7, names=GEAR_NAMES),
    Key("gear.*.reach", "number", high=1e4, names=GEAR_NAMES),
    Key("gear.*.gate", "number", high=1e3, names=GEAR_NAMES),
    Key("truck.per_hour", "money", required=True, high=_RATE_HIGH),
    Key("truck.box", "number", required=True, low=0.1, high=1e4),
    Key("truck.payload", "number", low=0.1, high=1e7),
    Key("truck.round_trip_hours", "number", required=True, high=24),
    Key("truck.crew", "whole", high=10),
    Key("disposal.chips.per_volume", "money", high=_RATE_HIGH),
    Key("disposal.*.per_volume", "money", high=_RATE_HIGH, names=MATERIALS),
    Key("disposal.*.per_weight", "money", high=_RATE_HIGH, names=MATERIALS),
    Key("job.mobilisation", "money", required=True, high=_RATE_HIGH),
    Key("job.day_hours", "number", low=1, high=24),
    Key("job.overhead_pct", "number", required=True, high=500),
    Key("job.contingency_pct", "number", high=100),
    Key("job.margin_pct", "number", required=True, high=95),
    Key("job.minimum", "money", required=True, high=_RATE_HIGH),
    Key("job.valid_days", "whole", required=True, low=1, high=366),
    Key("tax.name", "text"),
    Key("tax.pct", "number", required=True, high=100),
    Key("rounding.line", "money", high=_RATE_HIGH),
    Key("unit_price.stump_per_in", "money", high=_RATE_HIGH),
    Key("unit_price.tree_in_stock", "money", high=_RATE_HIGH),
    Key("stock.*.each", "money", required=True, high=_RATE_HIGH),
    Key("permits.*.fee", "money", required=True, high=_RATE_HIGH),
    Key("permits.*.hours", "number", high=1000),
    Key("permits.*.by", "text", choices=("firm", "client")),
    Key("scope.stump", "text", choices=("grind", "leave")),
    Key("scope.wood", "text", choices=("haul", "leave")),
    Key("scope.chips", "text", choices=("haul", "leave")),
    Key("scope.clean_up", "text", choices=("rake", "drag_only")),
    Key("contract.deposit_pct", "number", high=100),
    Key("contract.deposit_max", "money", high=_RATE_HIGH),
    Key("contract.cancel_days", "whole", high=60),
    Key("contract.source", "text"),
    Key("hours.*.set_up", "number", high=100, names=_TASKS),
    Key("hours.*.cut", "number", high=100, names=_TASKS),
    Key("hours.*.handle", "number", high=100, names=_TASKS),
    Key("hours.*.spread_pct", "number", high=200, names=_TASKS),
    Key("hours.*.correction", "number", low=0.25, high=4, names=_TASKS),
)
"""Every key a rates file may hold; documented one by one in docs/rates.md."""


@dataclass(frozen=True, slots=True)
class Gear:
    """One machine. Money in minor units, None where the firm gave none. `capacity_kg` is what it
    lifts, `reach_m` how high it works, `gate_m` the narrowest gate it passes."""

    name: str
    per_hour_minor: int | None = None
    per_day_minor: int | None = None
    bring_minor: int = 0
    capacity_kg: float | None = None
    reach_m: float | None = None
    gate_m: float | None = None


@dataclass(frozen=True, slots=True)
class Truck:
    """The truck that takes debris away. `crew` ground hands ride along."""

    per_hour_minor: int
    box_m3: float
    payload_kg: float | None
    round_trip_hours: float
    crew: int


@dataclass(frozen=True, slots=True)
class Disposal:
    """Dump fee of one material in minor units per `per` of the firm's units."""

    rate_minor: int
    per: Literal["volume", "weight"]


@dataclass(frozen=True, slots=True)
class Permit:
    """A permit the firm knows: fee, arborist hours to get it, and who applies."""

    name: str
    fee_minor: int
    hours: float
    by: Literal["firm", "client"]


@dataclass(frozen=True, slots=True)
class Contract:
    """Contract rules of the firm's place, as entered: nothing here is legal advice."""

    deposit_pct: float | None = None
    deposit_max_minor: int | None = None
    cancel_days: int | None = None
    source: str = ""


@dataclass(frozen=True, slots=True)
class Rates:
    """Everything a price needs to know about the firm. Money in integer minor units.

    `overhead_pct` is added to direct cost; `contingency_pct` to cost with overhead; `margin_pct`
    is the share of the price before tax that stays as profit (20 turns 80 into 100), not a
    mark-up. `line_step_minor` is the step line prices are rounded to, half up. `scope` holds the
    firm's usual stump, wood, chips and clean_up. `hours` holds overrides: task -> key -> number;
    `learned` what past jobs multiply them by: task -> access class -> factor.
    """

    currency: str
    minor_digits: int
    length_unit: Literal["ft", "m"]
    volume_unit: Literal["yd3", "m3"]
    weight_unit: Literal["lb", "short_ton", "kg", "t"]
    crew_minor: Mapping[str, int]
    gear: Mapping[str, Gear]
    truck: Truck
    disposal: Mapping[str, Disposal]
    mobilisation_minor: int
    day_hours: float
    overhead_pct: float
    contingency_pct: float
    margin_pct: float
    minimum_minor: int
    valid_days: int
    tax_pct: float
    tax_name: str = ""
    line_step_minor: int = 1
    stump_per_in_minor: int | None = None
    tree_in_stock_minor: int | None = None
    stock_minor: Mapping[str, int] = field(default_factory=dict)
    permits: Mapping[str, Permit] = field(default_factory=dict)
    scope: Mapping[str, str] = field(default_factory=dict)
    contract: Contract = field(default_factory=Contract)
    hours: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    learned: Mapping[str, Mapping[str, float]] = field(default_factory=dict)

    def overrides(self, task: str, access: str) -> Mapping[str, float]:
        """Give what replaces the default hours of a task in an access class."""
        own = self.hours.get(task, {})
        factor = self.learned.get(task, {}).get(access, 1.0)
        if factor == 1.0:
            return own
        return {**own, "correction": own.get("correction", 1.0) * factor}


M3_PER = {"m3": 1.0, "yd3": 0.9144**3}
KG_PER = {"kg": 1.0, "t": 1000.0, "lb": 0.45359237, "short_ton": 907.18474}
"""Exact by definition: international yard and pound."""
_M_PER = {"m": 1.0, "ft": 0.3048}


def read_rates(table: Mapping[str, Any], *, file: str) -> tuple[Rates | None, tuple[Problem, ...]]:
    """Read a firm's rates from the table of a `rates.toml`.

    Parameters
    ----------
    table : mapping
        As a TOML reader gives it (floats or Decimals). Keys: `RATE_KEYS`, docs/rates.md.
    file : str
        Path for the problems, relative to the survey folder.

    Returns
    -------
    rates : Rates or None
        None where any problem was found: a price on half a rates file would be a guess.
    problems : tuple of Problem
        Everything that is wrong, at once; `field` is the key path.

    References
    ----------
    No rate here is ours; `data/example_rates.toml` holds invented example figures.
    """
    digits = table.get("minor_digits", 2)
    known = isinstance(digits, int) and not isinstance(digits, bool) and 0 <= digits <= 3
    v, found = read_keys(table, RATE_KEYS, file=file, minor_digits=digits if known else 2)
    problems = [*found, *_between_keys(table, v, file)]
    if problems:
        return None, tuple(problems)
    length, volume, weight = (v[f"units.{u}"] for u in ("length", "volume", "weight"))

    def names(group: str) -> list[str]:
        return sorted({k.split(".")[1] for k in v if k.startswith(group + ".")})

    def scaled(key: str, factor: float) -> float | None:
        return v[key] * factor if key in v else None

    gear = {
        g: Gear(
            g,
            v.get(f"gear.{g}.per_hour"),
            v.get(f"gear.{g}.per_day"),
            v.get(f"gear.{g}.bring", 0),
            scaled(f"gear.{g}.capacity", KG_PER[weight]),
            scaled(f"gear.{g}.reach", _M_PER[length]),
            scaled(f"gear.{g}.gate", _M_PER[length]),
        )
        for g in names("gear")
    }
    disposal = {
        m: Disposal(v[f"disposal.{m}.per_volume"], "volume")
        if f"disposal.{m}.per_volume" in v
        else Disposal(v[f"disposal.{m}.per_weight"], "weight")
        for m in names("disposal")
    }
    permits = {
        p: Permit(
            p, v[f"permits.{p}.fee"], v.get(f"permits.{p}.hours", 0.0),
            v.get(f"permits.{p}.by", "firm"),
        )
        for p in names("permits")
    }  # fmt: skip
    hours = {
        t: {k: v[f"hours.{t}.{k}"] for k in _TASK_KEYS if f"hours.{t}.{k}" in v}
        for t in names("hours")
    }
    return (
        Rates(
            currency=v["currency"],
            minor_digits=v.get("minor_digits", 2),
            length_unit=length,
            volume_unit=volume,
            weight_unit=weight,
            crew_minor={r: v[f"crew.{r}"] for r in names("crew")},
            gear=gear,
            truck=Truck(
                v["truck.per_hour"], v["truck.box"] * M3_PER[volume],
                scaled("truck.payload", KG_PER[weight]), v["truck.round_trip_hours"],
                v.get("truck.crew", 1),
            ),
            disposal=disposal,
            mobilisation_minor=v["job.mobilisation"],
            day_hours=v.get("job.day_hours", 8.0),
            overhead_pct=v["job.overhead_pct"],
            contingency_pct=v.get("job.contingency_pct", 0.0),
            margin_pct=v["job.margin_pct"],
            minimum_minor=v["job.minimum"],
            valid_days=v["job.valid_days"],
            tax_pct=v["tax.pct"],
            tax_name=v.get("tax.name", ""),
            line_step_minor=v.get("rounding.line", 1),
            stump_per_in_minor=v.get("unit_price.stump_per_in"),
            tree_in_stock_minor=v.get("unit_price.tree_in_stock"),
            # Names of stock may hold points themselves: "1.5 in caliper".
            stock_minor={
                k.removeprefix("stock.").removesuffix(".each"): v[k]
                for k in sorted(v) if k.startswith("stock.")
            },
            permits=permits,
            scope={k: v[f"scope.{k}"] for k in names("scope")},
            contract=Contract(
                v.get("contract.deposit_pct"), v.get("contract.deposit_max"),
                v.get("contract.cancel_days"), v.get("contract.source", ""),
            ),
            hours=hours,
        ),
        (),
    )  # fmt: skip


def _between_keys(table: Mapping[str, Any], v: Mapping[str, Any], file: str) -> list[Problem]:
    """Find what no single key shows: a machine without a rate, a fee given twice."""
    problems: list[Problem] = []

    def sub(name: str) -> dict[str, Any]:
        found = table.get(name)
        return dict(found) if isinstance(found, Mapping) else {}

    def fault(path: str, value: str | None, expected: str) -> None:
        problems.append(Problem(file, None, path, value, expected))

    for g, entry in sub("gear").items():
        if (
            g in GEAR_NAMES
            and isinstance(entry, Mapping)
            and not {"per_hour", "per_day"} & set(entry)
        ):
            fault(f"gear.{g}", None, "per_hour or per_day, the rate of this machine")
    if "chipper" not in sub("gear"):
        fault("gear.chipper", None, "per_hour or per_day, the rate of this machine")
    fees = sub("disposal")
    for m in ("chips", "logs", "grindings"):
        if m not in fees:
            fault(f"disposal.{m}", None, "per_volume or per_weight, 0 where dumping is free")
    for m, entry in fees.items():
        if m in MATERIALS and isinstance(entry, Mapping):
            given = {"per_volume", "per_weight"} & set(entry)
            if len(given) == 2:
                fault(f"disposal.{m}", "both", "either per_volume or per_weight")
            elif not given:
                fault(f"disposal.{m}", None, "per_volume or per_weight, 0 where dumping is free")
    contract = sub("contract")
    if set(contract) - {"source"} and not contract.get("source"):
        fault("contract.source", None, "the law or rule these figures come from")
    if v.get("rounding.line") == 0:
        fault("rounding.line", "0", "a step of at least one minor unit")
    if isinstance(v.get("currency"), str) and len(v["currency"]) > 8:
        fault("currency", v["currency"], "a currency sign or code of at most 8 characters")
    return problems
