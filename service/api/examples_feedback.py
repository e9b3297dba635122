"""Invented reports for the documentation. A test sends each of them."""

from typing import Any, Final

_FIELD: Final[dict[str, Any]] = {
    "crop": "wheat",
    "machine_class": "hybrid",
    "grain_moisture_pct": 14.0,
    "yield_t_ha": 8.0,
    "straw_condition": "normal",
    "cut_width_m": 7.5,
    "upper_sieve_design": "standard_lip",
    "lower_sieve_design": "standard_lip",
    "machine": "red one",
    "field": "north 12",
}
_FRAMES: Final[dict[str, Any]] = {
    **_FIELD,
    "observed_at": "2026-07-28T14:30:00+02:00",
    "settings_used": [
        {"setting": "threshing_speed", "value": 25.0, "unit": "m/s"},
        {"setting": "concave_clearance_inlet", "value": 11.0, "unit": "mm"},
        {"setting": "concave_clearance_outlet", "value": 10.0, "unit": "mm"},
        {"setting": "upper_sieve_opening", "value": 14.0, "unit": "mm"},
        {"setting": "lower_sieve_opening", "value": 7.5, "unit": "mm"},
        {"setting": "ground_speed", "value": 4.0, "unit": "km/h"},
    ],
    "suggested_settings": [{"setting": "threshing_speed", "value": 23.7, "unit": "m/s"}],
    "advice": "starting_settings",
    "advice_revision": "2026.11.1",
    "discharge_width_m": 1.6,
    "frames": [
        {"place": "standing", "area_m2": 0.25, "kernels": [2, 0, 1, 1]},
        {"place": "cut_ahead", "area_m2": 0.25, "kernels": [6, 9, 4, 7]},
        {"place": "discharge", "area_m2": 0.25, "kernels": [88, 102, 75, 93]},
    ],
    "broken_pct": 1.2,
    "foreign_matter_pct": 0.6,
    "returns_level": "normal",
    "rating": 4,
}
_STEP: Final[dict[str, Any]] = {
    **_FIELD,
    "observed_at": "2026-07-28T15:10:00+02:00",
    "settings_used": [{"setting": "threshing_speed", "value": 23.5, "unit": "m/s"}],
    "trial_arm": "step_test",
    "machine_loss_pct": 1.1,
    "loss_method": "pans",
    "broken_pct": 0.8,
    "note": "Drum slowed by one step, all else left alone.",
}
_BUSHELS: Final[dict[str, Any]] = {
    "crop": "canola",
    "machine_class": "axial",
    "grain_moisture_pct": 9.0,
    "yield_bu_ac": 40.0,
    "machine": "2",
    "observed_at": "2026-08-20T19:05:00-06:00",
    "machine_loss_bu_ac": 0.8,
    "grain_throughput_bu_h": 900.0,
    "latitude_deg": 52.13,
    "longitude_deg": -106.67,
}

FEEDBACK: Final[dict[str, Any]] = {
    "frames on the ground": {"summary": "Wheat, settings and frames, after asking for advice", "value": _FRAMES},
    "one step later": {"summary": "The same field and day, drum slowed, loss from pans", "value": _STEP},
    "in bushels": {"summary": "Canola in bushels, with a place", "value": _BUSHELS},
}
BATCH: Final[dict[str, Any]] = {
    "two of one afternoon": {
        "summary": "A pair: one setting apart, in the same field on the same day",
        "value": {
            "items": [
                {"idempotency_key": "019829d4-7c00-7a6b-9d1e-5b2f8c0a4e11", **_FRAMES},
                {"idempotency_key": "019829d4-8d10-7c22-b0f4-11c7a2d90e55", **_STEP},
            ]
        },
    }
}
