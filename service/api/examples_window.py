"""Invented weather and readings for the documentation. A test asks each of them."""

import math
from typing import Any, Final


def _wave(mean: float, swing: float, hours: int, first_hour: int, places: int = 1) -> list[float]:
    """A day's course, highest at three in the afternoon."""
    return [
        round(mean + swing * math.cos((first_hour + hour + 0.5 - 15) / 24 * 2 * math.pi), places)
        for hour in range(hours)
    ]


_RAIN: Final = [0.0] * 62 + [1.2, 0.4] + [0.0] * 32

HARVEST_WINDOW: Final[dict[str, Any]] = {
    "wheat, four days with a shower": {
        "summary": "Winter wheat read at 20.5 and 19.0 %, to be combined at 15.5 %, gas dryer at hand",
        "value": {
            "crop": "wheat",
            "weather": {
                "start": "2026-07-20T06:00:00+02:00",
                "temperature_c": _wave(21.0, 6.5, 96, 6),
                "relative_humidity_pct": _wave(58.0, -26.0, 96, 6, 0),
                "wind_m_s": _wave(3.0, 1.0, 96, 6),
                "rain_mm": _RAIN,
            },
            "readings": [
                {"time": "2026-07-20T09:00:00+02:00", "moisture_pct": 20.5},
                {"time": "2026-07-20T18:00:00+02:00", "moisture_pct": 18.6},
            ],
            "target_moisture_pct": 15.5,
            "market": "eu",
            "price_per_t": 210.0,
            "currency": "EUR",
            "yield_t_ha": 8.5,
            "area_ha": 40.0,
            "fuel_price_per_l": 0.75,
        },
    },
    "soybean, dew point in degrees Fahrenheit": {
        "summary": "Soybean read at 17 and 15.2 %, two days, prices per bushel",
        "value": {
            "crop": "soybean",
            "weather": {
                "start": "2026-10-02T08:00:00-05:00",
                "temperature_f": _wave(66.0, 12.0, 48, 8),
                "dew_point_f": [49.0] * 48,
            },
            "readings": [
                {"time": "2026-10-02T10:00:00-05:00", "moisture_pct": 17.0},
                {"time": "2026-10-02T17:00:00-05:00", "moisture_pct": 15.2},
            ],
            "target_moisture_pct": 13.0,
            "market": "us",
            "price_per_bu": 11.0,
            "currency": "USD",
            "yield_bu_ac": 55.0,
            "drying_cost_per_bu_point": 0.05,
        },
    },
    "maize, one reading": {
        "summary": "Maize at 26 %, ten days of autumn weather, pace of the table",
        "value": {
            "crop": "maize",
            "weather": {
                "start": "2026-10-01T00:00:00Z",
                "temperature_c": _wave(15.0, 5.0, 240, 0),
                "relative_humidity_pct": _wave(68.0, -18.0, 240, 0, 0),
            },
            "readings": [{"time": "2026-10-01T08:00:00Z", "moisture_pct": 26.0}],
            "target_moisture_pct": 20.0,
            "market": "us",
        },
    },
}
