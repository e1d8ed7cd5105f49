"""Where the sun stands: the low-precision solar position of Meeus, as NOAA's sheets compute it.

Good to about 0.01 degrees between 1950 and 2050 (check: the example of the solar position
algorithm by Reda & Andreas 2004). A library was tried: it brings pandas, h5py and a network
client, an order of magnitude more to install than these lines replace.
"""

import math
from dataclasses import dataclass
from datetime import date

__all__ = ["Sun", "sun_position"]


@dataclass(frozen=True, slots=True)
class Sun:
    """Direction to the sun: elevation above the horizon, refraction included [deg], and azimuth
    clockwise from north [deg]."""

    elevation_deg: float
    azimuth_deg: float


def sun_position(
    day: date, hour: float, *, latitude_deg: float, longitude_deg: float, utc_offset_hours: float
) -> Sun:
    """Give where the sun stands.

    Parameters
    ----------
    day : date
        1950 to 2050.
    hour : float
        Standard time of the zone told by `utc_offset_hours`, 0 to 24.
    latitude_deg, longitude_deg : float
        North and east positive.
    utc_offset_hours : float
        -8 for Pacific Standard Time.

    Raises
    ------
    ValueError
        Latitude, longitude or hour out of range.
    """
    if not (-90 <= latitude_deg <= 90 and -180 <= longitude_deg <= 180 and 0 <= hour <= 24):
        raise ValueError("latitude -90 to 90, longitude -180 to 180, hour 0 to 24.")
    # 2000-01-01 is ordinal 730120; its noon is the epoch J2000.
    days = day.toordinal() - 730120 - 0.5 + (hour - utc_offset_hours) / 24
    t = days / 36525
    mean_longitude = (280.46646 + t * (36000.76983 + 0.0003032 * t)) % 360
    anomaly = math.radians(357.52911 + t * (35999.05029 - 0.0001537 * t))
    centre = (
        math.sin(anomaly) * (1.914602 - t * (0.004817 + 0.000014 * t))
        + math.sin(2 * anomaly) * (0.019993 - 0.000101 * t)
        + math.sin(3 * anomaly) * 0.000289
    )
    node = math.radians(125.04 - 1934.136 * t)
    longitude = math.radians(mean_longitude + centre - 0.00569 - 0.00478 * math.sin(node))
    tilt = 23 + (26 + (21.448 - t * (46.815 + t * (0.00059 - 0.001813 * t))) / 60) / 60
    obliquity = math.radians(tilt + 0.00256 * math.cos(node))
    declination = math.asin(math.sin(obliquity) * math.sin(longitude))
    right_ascension = math.atan2(math.cos(obliquity) * math.sin(longitude), math.cos(longitude))
    sidereal_deg = 280.46061837 + 360.98564736629 * days + 0.000387933 * t * t
    hour_angle = math.radians(sidereal_deg + longitude_deg) - right_ascension
    lat = math.radians(latitude_deg)
    sine = math.sin(lat) * math.sin(declination) + math.cos(lat) * math.cos(declination) * math.cos(
        hour_angle
    )
    elevation = math.degrees(math.asin(max(-1.0, min(1.0, sine))))
    azimuth = math.degrees(
        math.atan2(
            math.sin(hour_angle),
            math.cos(hour_angle) * math.sin(lat) - math.tan(declination) * math.cos(lat),
        )
    )
    return Sun(elevation + _refraction_deg(elevation), (azimuth + 180) % 360)


def _refraction_deg(elevation_deg: float) -> float:
    """Lift of the sun by the air (Saemundson's formula as in Meeus), 0 well below the horizon."""
    if elevation_deg < -1:
        return 0.0
    return 1.02 / math.tan(math.radians(elevation_deg + 10.3 / (elevation_deg + 5.11))) / 60
