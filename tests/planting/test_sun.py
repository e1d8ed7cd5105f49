"""The sun against published examples, and shadows against hand geometry."""

import math
from datetime import date

import pytest

from bolewalk.planting.later import CrownThen
from bolewalk.planting.plan import ShadeSpot
from bolewalk.planting.shade import shades
from bolewalk.planting.sun import Sun, sun_position


def test_published_example():
    # Reda & Andreas 2004 (NREL/TP-560-34302), table A5.1: zenith 50.11162, azimuth 194.34024,
    # refraction for 820 mbar; sea-level refraction differs by 0.003 degrees.
    found = sun_position(
        date(2003, 10, 17), 12 + 30 / 60 + 30 / 3600, latitude_deg=39.742476,
        longitude_deg=-105.1786, utc_offset_hours=-7,
    )  # fmt: skip
    assert 90 - found.elevation_deg == pytest.approx(50.11162, abs=0.01)
    assert found.azimuth_deg == pytest.approx(194.34024, abs=0.01)


def test_declination_of_meeus():
    # Meeus, Astronomical Algorithms, example 25.a: 1992 October 13.0 TD, declination -7.78507.
    # At the north pole the sun stands at its declination; there is no refraction so low.
    found = sun_position(
        date(1992, 10, 13), 0, latitude_deg=90, longitude_deg=0, utc_offset_hours=0
    )
    assert found.elevation_deg == pytest.approx(-7.78507, abs=0.01)


@pytest.mark.parametrize(
    ("day", "latitude", "elevation", "azimuth"),
    # By hand: at noon 90 - latitude + declination; 23.44 at the solstices. Clock noon on the
    # zone's meridian is sun's noon to within the equation of time, so a degree is allowed.
    [
        (date(2026, 6, 21), 38.0, 75.44, 180), (date(2026, 12, 21), 38.0, 28.56, 180),
        (date(2026, 12, 21), -34.0, 79.44, 0),
    ],
)  # fmt: skip
def test_noon_at_the_solstices(day, latitude, elevation, azimuth):
    found = sun_position(day, 12.0, latitude_deg=latitude, longitude_deg=-120, utc_offset_hours=-8)
    assert found.elevation_deg == pytest.approx(elevation, abs=0.1)
    assert math.cos(math.radians(found.azimuth_deg - azimuth)) > math.cos(math.radians(5))


def test_out_of_range():
    with pytest.raises(ValueError, match="latitude -90 to 90"):
        sun_position(date(2026, 1, 1), 12, latitude_deg=91, longitude_deg=0, utc_offset_hours=0)


def ball(radius=3.0, base=2.0, x=0.0, y=0.0, **kw):
    return CrownThen(
        kw.get("id", "P1"), "", x, y, (radius,) * 4, radius, radius, base + 2 * radius, None, None,
        base, 1.0, True,
    )  # fmt: skip


def spot(x, y, z=0.0):
    return ShadeSpot("bench", (x, y), 8, 15, 16.0, z)


@pytest.mark.parametrize(
    ("at", "shaded"),
    # A ball of 3 m, centre 5 m up, sun in the west at 45 degrees: its shadow on the ground is an
    # ellipse centred 5 m east of the trunk, 3 m / sin 45 = 4.24 m long each way, 3 m wide.
    [
        ((5.0, 0.0), True), ((9.2, 0.0), True), ((9.3, 0.0), False), ((0.8, 0.0), True),
        ((0.7, 0.0), False), ((5.0, 2.99), True), ((5.0, 3.01), False), ((-5.0, 0.0), False),
    ],
)  # fmt: skip
def test_shadow_of_a_ball(at, shaded):
    assert shades(ball(), spot(*at), Sun(45.0, 270.0)) is shaded


def test_no_shade_at_night_and_inside_the_crown():
    assert not shades(ball(), spot(5, 0), Sun(-1.0, 270.0))
    assert shades(ball(), spot(0, 0, 5.0), Sun(45.0, 90.0))


def test_a_lopsided_crown_shades_by_its_own_side():
    crown = CrownThen("T1", "", 0, 0, (1.0, 1.0, 6.0, 1.0), 1, 1, 8.0, None, None, 2.0, 1.0, False)
    # The southern half reaches 6 m; the northern 1 m. Sun in the west at 45 degrees.
    assert shades(crown, spot(5.0, -4.0), Sun(45.0, 270.0))
    assert not shades(crown, spot(5.0, 4.0), Sun(45.0, 270.0))
