"""Distances from overhead lines as published; GC numbers hand-worked from the printed rule.

29 CFR 1910.333(c)(3): 10 ft to 50 kV, 4 in for each 10 kV above. 29 CFR 1926.1408 table A.
California Public Resources Code 4293.
"""

import math

import pytest

from bolewalk.rules.wires import approach_distance_m, boom_distance_m, vegetation_clearance_m

FT = 0.3048


@pytest.mark.parametrize(
    ("kv", "straight_ft", "started_ft"),
    [
        (12, 10.0, 10.0),  # GC-1
        (50, 10.0, 10.0),  # GC-1
        (69, 10.63, 10.67),  # GC-2
        (115, 12.17, 12.33),  # GC-3
        (230, 16.0, 16.0),  # GC-4
    ],
)
def test_unqualified_worker(kv, straight_ft, started_ft):
    assert approach_distance_m(kv, steps="straight") / FT == pytest.approx(straight_ft, abs=0.005)
    assert approach_distance_m(kv) / FT == pytest.approx(started_ft, abs=0.005)


@pytest.mark.parametrize(
    ("kv", "ft"), [(50, 10), (69, 15), (200, 15), (230, 20), (500, 25), (501, 35), (1000, 45)]
)
def test_cranes_and_booms(kv, ft):
    """GC-5, and the bounds of the printed table ("over 50 to 200")."""
    assert boom_distance_m(kv) / FT == pytest.approx(ft)


@pytest.mark.parametrize(
    ("kv", "ft"), [(2.4, 4), (71.9, 4), (72, 6), (109, 6), (110, 10), (500, 10)]
)
def test_branches_in_fire_prone_land(kv, ft):
    """GC-6: exactly 72 and 110 kV belong to the upper band."""
    assert vegetation_clearance_m(kv) / FT == pytest.approx(ft)


def test_what_the_tables_do_not_hold():
    assert boom_distance_m(1200) is None
    assert vegetation_clearance_m(0.24) is None
    for bad in (-1, math.nan, math.inf):
        with pytest.raises(ValueError, match="finite and >= 0"):
            approach_distance_m(bad)
