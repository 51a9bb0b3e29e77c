"""The heat index against what the US National Weather Service publishes.

Equation and order of use: NWS Weather Prediction Center, "The Heat Index Equation"
(wpc.ncep.noaa.gov/html/heatindex_equation.shtml), after Rothfusz, NWS Technical Attachment
SR 90-23, 1990. Values to 0.001 were computed independently with metpy 1.7.1 (for an index of
80 F and above) and from the equation as printed; chart values are those of the NWS heat index
chart (srh.noaa.gov/tsa/?n=heatindex).
"""

import pytest

from voicelog.safety.heat_index import band, heat_index_c, heat_index_f


@pytest.mark.parametrize(
    ("air_f", "humidity", "index_f"),
    [
        (80, 40, 79.790),
        (86, 70, 95.068),
        (88, 60, 95.149),
        (75, 60, 75.010),  # the simple form, averaged with the air temperature
        (90, 40, 90.680),
        (90, 70, 105.922),
        (96, 65, 121.032),
        (90, 100, 131.636),
        (100, 55, 123.638),
        (110, 40, 135.657),
        (95, 10, 89.450),  # adjusted for dry air
        (85, 90, 101.781),  # adjusted for humid air
    ],
)
def test_the_index_follows_the_published_equation(
    air_f: int, humidity: int, index_f: float
) -> None:
    assert heat_index_f(air_f, humidity) == pytest.approx(index_f, abs=0.001)


@pytest.mark.parametrize(
    ("air_f", "humidity", "chart_f"),
    [
        (80, 40, 80),
        (86, 70, 95),
        (88, 60, 95),
        (90, 40, 91),
        (90, 70, 106),
        (96, 65, 121),
        (90, 100, 132),
        (100, 55, 124),
        (110, 40, 136),
    ],
)
def test_the_rounded_index_is_the_cell_of_the_nws_chart(
    air_f: int, humidity: int, chart_f: int
) -> None:
    assert round(heat_index_f(air_f, humidity)) == chart_f


@pytest.mark.parametrize(
    ("index_f", "name"),
    [
        (79.9, None),
        (80, "caution"),
        (90, "extreme caution"),
        (102.9, "extreme caution"),
        (103, "danger"),
        (124.9, "danger"),
        (125, "extreme danger"),
    ],
)
def test_the_bands_are_those_of_the_chart_with_danger_from_103(
    index_f: float, name: str | None
) -> None:
    """Caution 80 to 90, extreme caution 90 to 103, danger 103 to 124, extreme danger from 125:
    the NWS-derived chart reproduced at w12thrd.blogspot.com/2015/07."""
    assert band(index_f) == name


def test_celsius_is_the_same_index() -> None:
    assert heat_index_c(30, 70) == pytest.approx((95.068 - 32) / 1.8, abs=0.001)


@pytest.mark.parametrize("humidity", [-1, 101])
def test_humidity_is_a_percentage(humidity: int) -> None:
    with pytest.raises(ValueError, match="wanted is a percentage from 0 to 100"):
        heat_index_f(90, humidity)
