"""What the trade says, set beside what is published for the same plant."""

import math
from collections.abc import Sequence

from bolewalk.model.statements import Statement, say
from bolewalk.planting.crowns import new_grower
from bolewalk.planting.palette import PaletteTaxon
from bolewalk.planting.tables import rules

__all__ = ["oak_beside_the_saying"]


def oak_beside_the_saying(
    plants: Sequence[tuple[PaletteTaxon, str]], *, region: str | None
) -> tuple[Statement, ...]:
    """Set "a large native oak fills a big gap in ten to fifteen years" beside the projection.

    Common practice, no source. One statement for each large native oak planted: its crown in
    the saying's years, as width and as a share of the crown when grown, with the reason for any
    difference.

    Parameters
    ----------
    plants : sequence of (taxon, stock)
    region : str or None
        Growth region; None gives nothing, as nothing published speaks then.
    """
    if region is None:
        return ()
    table = rules("planting_rules")["oak_saying"]
    early, late = (int(y) for y in table["years"])
    told = []
    for taxon, stock in sorted(set(plants), key=lambda p: (p[0].botanical, p[1])):
        grown = taxon.spread_m.value
        if taxon.genus != "Quercus" or not taxon.native_to or grown < float(table["large_m"]):
            continue
        g = new_grower("", taxon, stock, (0.0, 0.0), region=region, horizon=late, survival=None)
        widths = [2 * float(g.radius_m[y]) for y in (early, late)]
        share = 100 * (widths[1] / grown) ** 2
        told.append(
            say(
                "planting.oak_saying", kind=taxon.common, region=region, early_years=early,
                late_years=late, early_m=widths[0], late_m=widths[1],
                low_m=2 * float(g.radius_low_m[late]), high_m=2 * float(g.radius_high_m[late]),
                late_m2=math.pi * widths[1] ** 2 / 4, grown_m=grown, share_pct=share,
            )
        )  # fmt: skip
        close = share >= float(table["filled_pct"])
        told.append(say(f"planting.oak_saying_{'agrees' if close else 'differs'}"))
    return tuple(told)
