"""Price, phases, futures."""

from dataclasses import replace

from bolewalk.pricing.cost import LineMoney, mark_up
from bolewalk.pricing.debris import earthwork, wood_debris, wood_index
from bolewalk.pricing.futures import compare_paths
from bolewalk.pricing.phases import plan_phases
from tests.pricing.money_files import FAN_PALM, FEATHER_PALM, PELL, futures_of, phases_of, rates

from . import FT, IN, IN_CM, LB, YD3, Checks, Found


def fill_hauled() -> Found:
    soil = earthwork(area_m2=1271 * FT**2, depth_m=14 * IN, load_m3=10 * YD3)
    return [soil.in_place_m3 / YD3, soil.loose_m3 / YD3, soil.loads]


def chips_lb() -> Found:
    """What fills ten cubic yards when it is chipped."""
    a_ton = wood_debris(brush_kg=1000.0, log_kg=0)
    return [10 * YD3 / a_ton.volume_m3["chips"] * 1000.0 / LB]


def with_its_margin() -> Found:
    firm = replace(
        rates(rounding__line=0.01), overhead_pct=0, contingency_pct=0, margin_pct=20
    )  # fmt: skip
    return [mark_up(LineMoney(labour_minor=80_00), firm).price_minor / 100]


def schedule(n: int, *, years: bool = False) -> Found:
    found = plan_phases(phases_of(PELL)).best[n]
    return [m / 100 for m in found.year_totals_minor] if years else [found.total_minor / 100]


def palm(what: str) -> Found:
    flows = compare_paths(futures_of(FAN_PALM)[0]).flows
    if what == "heights":
        return [flows[0].heights[10], flows[0].heights[20]]
    if what == "steps":
        return [height for _, height in flows[0].steps]
    return [getattr(f, what) / 100 for f in flows]


CHECKS: Checks = {
    "price": {
        "10 yd³": chips_lb,
        "fill of 1,271": fill_hauled,
        "wood index": lambda: [wood_index([i * IN_CM for i in (7, 6, 6, 5, 5)], 30 * FT)],
        "80 of cost": with_its_margin,
        "three of them": lambda: [wood_index([i * IN_CM for i in (11, 10, 10)], 45 * FT)],
    },
    "phases": {
        "three years of": lambda: schedule(0),
        "its years": lambda: schedule(0, years=True),
        "the next total": lambda: schedule(1),
        "years of that": lambda: schedule(1, years=True),
    },
    "futures": {
        "the palm above": lambda: palm("total_minor"),
        "the same at 3 %": lambda: palm("present_minor"),
        "its height": lambda: palm("heights"),
        "price steps": lambda: palm("steps"),
        "feather palm": lambda: [compare_paths(futures_of(FEATHER_PALM)[0]).flows[0].steps[0][0]],
    },
}
