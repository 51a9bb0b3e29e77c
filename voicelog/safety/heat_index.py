"""The heat index of the US National Weather Service: how warm humid air feels to people.

It is built for people in the shade, not for dogs; no index with limits validated for dogs
was found. It is shown beside the air temperature and decides nothing.

Order and terms: Rothfusz, NWS Technical Attachment SR 90-23, 1990, as given on the NWS page
"The Heat Index Equation".
"""

from __future__ import annotations

from math import sqrt

__all__ = ["band", "heat_index_c", "heat_index_f"]

_BANDS = ((125.0, "extreme danger"), (103.0, "danger"), (90.0, "extreme caution"))


def heat_index_f(air_f: float, humidity: float) -> float:
    """The heat index in degrees Fahrenheit from air in Fahrenheit and humidity in percent.

    Raises ValueError when the humidity is not between 0 and 100.
    """
    if not 0 <= humidity <= 100:
        raise ValueError(f"humidity is {humidity:g}, wanted is a percentage from 0 to 100")
    t, r = air_f, humidity
    simple = 0.5 * (t + 61.0 + (t - 68.0) * 1.2 + r * 0.094)
    if (simple + t) / 2 < 80.0:
        return (simple + t) / 2
    index = (
        -42.379
        + 2.04901523 * t
        + 10.14333127 * r
        - 0.22475541 * t * r
        - 0.00683783 * t * t
        - 0.05481717 * r * r
        + 0.00122874 * t * t * r
        + 0.00085282 * t * r * r
        - 0.00000199 * t * t * r * r
    )
    if r < 13 and 80 <= t <= 112:
        index -= (13 - r) / 4 * sqrt((17 - abs(t - 95)) / 17)
    elif r > 85 and 80 <= t <= 87:
        index += (r - 85) / 10 * (87 - t) / 5
    return index


def heat_index_c(air_c: float, humidity: float) -> float:
    """The same in degrees Celsius."""
    return (heat_index_f(air_c * 1.8 + 32, humidity) - 32) / 1.8


def band(index_f: float) -> str | None:
    """The band of a heat index in Fahrenheit, or None below all of them.

    Named as on the NWS chart with caution 80 to 90, extreme caution 90 to 103, danger 103 to
    124 and extreme danger from 125; an older NWS chart puts danger at 105 to 129.
    """
    for low, name in _BANDS:
        if index_f >= low:
            return name
    return "caution" if index_f >= 80.0 else None
