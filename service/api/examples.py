"""Invented field cases for the documentation. A test asks each of them."""

from typing import Any, Final

STARTING_SETTINGS: Final[dict[str, Any]] = {
    "wheat, drum with separation rotors": {
        "summary": "Winter wheat at 14 %, 8 t/ha, hybrid machine",
        "value": {
            "crop": "wheat",
            "machine_class": "hybrid",
            "grain_moisture_pct": 14.0,
            "yield_t_ha": 8.0,
            "use": "milling",
            "upper_sieve_design": "standard_lip",
            "lower_sieve_design": "standard_lip",
        },
    },
    "canola, single rotor": {
        "summary": "Canola at 9 %, 40 bu/ac, dry straw, axial rotor",
        "value": {
            "crop": "canola",
            "machine_class": "axial",
            "grain_moisture_pct": 9.0,
            "yield_bu_ac": 40.0,
            "straw_condition": "dry",
            "cut_width_ft": 35.0,
        },
    },
    "maize, single rotor": {
        "summary": "Maize at 24 %, 11 t/ha, loss matters most",
        "value": {
            "crop": "maize",
            "machine_class": "axial",
            "grain_moisture_pct": 24.0,
            "yield_t_ha": 11.0,
            "priority": "loss",
        },
    },
    "soybean, straw walkers": {
        "summary": "Soybean at 12 %, 3.2 t/ha, walkers, side slope of 6 degrees",
        "value": {
            "crop": "soybean",
            "machine_class": "walker",
            "grain_moisture_pct": 12.0,
            "yield_t_ha": 3.2,
            "slope_across_deg": 6.0,
        },
    },
}

GROUND_LOSS: Final[dict[str, Any]] = {
    "wheat, swath": {
        "summary": "Wheat, quarter-metre frames ahead, under the swath and outside it",
        "value": {
            "crop": "wheat",
            "yield_t_ha": 8.0,
            "cut_width_m": 7.5,
            "discharge_width_m": 1.6,
            "thousand_kernel_mass_g": 42.0,
            "frames": [
                {"place": "standing", "area_m2": 0.25, "kernels": [2, 0, 1, 1]},
                {"place": "cut_ahead", "area_m2": 0.25, "kernels": [6, 9, 4, 7]},
                {"place": "discharge", "area_m2": 0.25, "kernels": [88, 102, 75, 93]},
            ],
            "price_per_t": 200.0,
            "currency": "EUR",
            "area_rate_ha_h": 3.5,
        },
    },
    "soybean, spread": {
        "summary": "Soybean, ten square feet per frame, straw spread over the full width",
        "value": {
            "crop": "soybean",
            "yield_bu_ac": 50.0,
            "cut_width_ft": 30.0,
            "discharge_width_ft": 30.0,
            "spreading": "spread",
            "frames": [
                {"place": "standing", "area_ft2": 10.0, "kernels": [1, 3, 0, 2]},
                {"place": "cut_ahead", "area_ft2": 10.0, "kernels": [20, 34, 18, 27]},
                {"place": "discharge", "area_ft2": 10.0, "kernels": [41, 52, 38, 60]},
            ],
            "price_per_bu": 11.0,
            "currency": "USD",
        },
    },
}
