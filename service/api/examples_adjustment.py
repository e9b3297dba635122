"""Invented questions after a change for the documentation. A test asks each of them."""

from typing import Any, Final

NEXT_ADJUSTMENT: Final[dict[str, Any]] = {
    "wheat, cracked kernels": {
        "summary": "Wheat, walkers: 4.2 % broken, returns full of clean grain; a slower drum did not help",
        "value": {
            "crop": "wheat",
            "machine_class": "walker",
            "grain_moisture_pct": 14.5,
            "yield_t_ha": 7.0,
            "use": "milling",
            "upper_sieve_design": "standard_lip",
            "lower_sieve_design": "standard_lip",
            "current_settings": [
                {"setting": "threshing_speed", "value": 25.8, "unit": "m/s"},
                {"setting": "concave_clearance_inlet", "value": 10.0, "unit": "mm"},
                {"setting": "lower_sieve_opening", "value": 7.0, "unit": "mm"},
                {"setting": "ground_speed", "value": 4.1, "unit": "km/h"},
            ],
            "symptoms": [{"symptom": "cracked", "severity": 4, "tell_tale": "clean_grain_in_returns"}],
            "measured": {"broken_pct": 4.2, "separation_loss_pct": 0.3},
            "checks_done": ["wrong_concave"],
            "history": [
                {
                    "setting": "threshing_speed",
                    "from_value": 27.1,
                    "to_value": 25.8,
                    "unit": "m/s",
                    "effect": "same",
                    "measured_before": {"broken_pct": 4.4},
                    "measured_after": {"broken_pct": 4.2},
                    "symptoms_before": [{"symptom": "straw_broken", "severity": 1}],
                    "symptoms_after": [{"symptom": "straw_broken", "severity": 1}],
                }
            ],
        },
    },
    "canola, chaff in the tank": {
        "summary": "Canola, axial rotor, units of the United States: light chaff in the sample",
        "value": {
            "crop": "canola",
            "machine_class": "axial",
            "grain_moisture_pct": 9.0,
            "yield_bu_ac": 40.0,
            "cut_width_ft": 35.0,
            "drum_diameter_in": 30.0,
            "fan_speed_min_rpm": 300.0,
            "fan_speed_max_rpm": 1100.0,
            "upper_sieve_design": "standard_lip",
            "lower_sieve_design": "standard_lip",
            "current_settings": [
                {"setting": "threshing_speed", "value": 340.0, "unit": "{rev}/min"},
                {"setting": "concave_clearance", "value": 0.8, "unit": "[in_i]"},
                {"setting": "cleaning_air_speed", "value": 500.0, "unit": "{rev}/min"},
                {"setting": "ground_speed", "value": 4.0, "unit": "[mi_i]/h"},
            ],
            "symptoms": [
                {"symptom": "dirty_chaff", "severity": 3, "tell_tale": "light_chaff"},
                {"symptom": "cleaning_loss", "severity": 0},
            ],
            "priority": "sample",
        },
    },
    "barley, damp straw": {
        "summary": "Barley, drum with separation rotors: heads left in the straw, losses measured",
        "value": {
            "crop": "barley",
            "machine_class": "hybrid",
            "grain_moisture_pct": 17.0,
            "yield_t_ha": 6.5,
            "straw_condition": "tough",
            "measured": {"unthreshed_pct": 0.9, "separation_loss_pct": 0.6, "cleaning_loss_pct": 0.2},
            "symptoms": [{"symptom": "unthreshed", "severity": 4, "tell_tale": "heads_in_straw_grain_sound"}],
        },
    },
}
