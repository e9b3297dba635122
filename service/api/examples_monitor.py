"""Invented calibrations of loss monitors for the documentation. A test asks each of them."""

from typing import Any, Final

MONITOR_CALIBRATION: Final[dict[str, Any]] = {
    "wheat, separation, bars": {
        "summary": "Wheat, bars from 0 to 10, six pans at four speeds; one of them was laid badly",
        "value": {
            "crop": "wheat",
            "sensor": "separation",
            "cut_width_m": 9.0,
            "ground_speed_km_h": 5.0,
            "yield_t_ha": 8.0,
            "reading_full_scale": 10.0,
            "no_loss_readings": [0.3, 0.2, 0.5, 0.4, 0.3],
            "pairs": [
                {"reading": 1.0, "measured_loss_kg_ha": 8.0, "ground_speed_km_h": 3.5},
                {"reading": 1.9, "measured_loss_kg_ha": 19.0, "ground_speed_km_h": 4.2},
                {"reading": 3.3, "measured_loss_kg_ha": 22.0, "ground_speed_km_h": 5.0},
                {"reading": 2.6, "measured_loss_kg_ha": 120.0, "ground_speed_km_h": 4.6},
                {"reading": 4.4, "measured_loss_kg_ha": 37.0, "ground_speed_km_h": 5.6},
                {"reading": 5.9, "measured_loss_kg_ha": 46.0, "ground_speed_km_h": 6.2},
                {"reading": 7.0, "measured_loss_kg_ha": 49.0, "ground_speed_km_h": 6.6},
            ],
        },
    },
    "canola, cleaning, counted in pans": {
        "summary": "Canola, display in bu/ac, seeds weighed in pans of one square foot",
        "value": {
            "crop": "canola",
            "sensor": "cleaning",
            "reading_unit": "bu_ac",
            "cut_width_ft": 35.0,
            "ground_speed_mph": 4.0,
            "discharge_width_ft": 6.0,
            "yield_bu_ac": 45.0,
            "pairs": [
                {"reading": 0.3, "masses_g": [0.9, 1.3, 1.1], "area_ft2": 1.0, "ground_speed_mph": 2.5},
                {"reading": 0.6, "masses_g": [2.4, 1.8, 2.9], "area_ft2": 1.0, "ground_speed_mph": 3.5},
                {"reading": 0.9, "masses_g": [3.4, 4.6, 3.1], "area_ft2": 1.0, "ground_speed_mph": 4.0},
                {"reading": 1.4, "masses_g": [6.5, 5.2, 4.9], "area_ft2": 1.0, "ground_speed_mph": 5.0},
            ],
            "target_loss_pct": 1.0,
        },
    },
    "barley, cleaning, a bar that stops rising": {
        "summary": "Barley, kernels counted in pans; above a reading of 7 the bar no longer follows",
        "value": {
            "crop": "barley",
            "sensor": "cleaning",
            "cut_width_m": 7.5,
            "discharge_width_m": 1.5,
            "ground_speed_km_h": 4.5,
            "yield_t_ha": 6.5,
            "thousand_kernel_mass_g": 45.0,
            "reading_full_scale": 10.0,
            "pairs": [
                {"reading": 1.2, "kernels": [21, 17], "area_m2": 0.25, "ground_speed_km_h": 3.0},
                {"reading": 2.6, "kernels": [36, 31], "area_m2": 0.25, "ground_speed_km_h": 3.8},
                {"reading": 4.1, "kernels": [47, 55], "area_m2": 0.25, "ground_speed_km_h": 4.4},
                {"reading": 5.8, "kernels": [70, 61], "area_m2": 0.25, "ground_speed_km_h": 5.0},
                {"reading": 7.1, "kernels": [75, 84], "area_m2": 0.25, "ground_speed_km_h": 5.4},
                {"reading": 7.3, "kernels": [131, 142], "area_m2": 0.25, "ground_speed_km_h": 6.0},
                {"reading": 7.4, "kernels": [196, 181], "area_m2": 0.25, "ground_speed_km_h": 6.6},
            ],
        },
    },
}
