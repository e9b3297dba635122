"""Invented drop tests for the documentation. A test asks each of them."""

from typing import Any, Final

WORKING_SPEED: Final[dict[str, Any]] = {
    "canola, two speeds": {
        "summary": "Canola, 40 ft, 1 bu/ac lost at 3 mph and 3 bu/ac at 4 mph, 300 an hour",
        "value": {
            "crop": "canola",
            "yield_bu_ac": 40.0,
            "cut_width_ft": 40.0,
            "drop_tests": [
                {"ground_speed_mph": 3.0, "machine_loss_bu_ac": 1.0},
                {"ground_speed_mph": 4.0, "machine_loss_bu_ac": 3.0},
            ],
            "field_efficiency_pct": 100.0,
            "price_per_bu": 10.0,
            "cost_per_h": 300.0,
            "currency": "CAD",
        },
    },
    "wheat, five speeds": {
        "summary": "Wheat, losses of machine and header at five speeds, cost of an hour from list price, delay",
        "value": {
            "crop": "wheat",
            "yield_t_ha": 8.0,
            "cut_width_m": 7.5,
            "drop_tests": [
                {"ground_speed_km_h": 3.0, "machine_loss_kg_ha": 22.0, "header_loss_kg_ha": 14.0},
                {"ground_speed_km_h": 4.0, "machine_loss_kg_ha": 35.0, "header_loss_kg_ha": 16.0},
                {"ground_speed_km_h": 5.0, "machine_loss_kg_ha": 61.0, "header_loss_kg_ha": 15.0},
                {"ground_speed_km_h": 6.0, "machine_loss_kg_ha": 118.0, "header_loss_kg_ha": 21.0},
                {"ground_speed_km_h": 7.0, "machine_loss_kg_ha": 246.0, "header_loss_kg_ha": 27.0},
            ],
            "run_length_m": 400.0,
            "turn_time_s": 25.0,
            "unloading_stop_min": 0.0,
            "tank_volume_l": 10000.0,
            "price_per_t": 200.0,
            "currency": "EUR",
            "list_price": 420000.0,
            "machine_age_years": 5.0,
            "hours_per_year": 250.0,
            "wage_per_h": 25.0,
            "fuel_price_per_l": 1.1,
            "machine_class": "hybrid",
            "engine_power_kw": 300.0,
            "area_left_ha": 120.0,
            "hours_per_day": 9.0,
            "workday_share_pct": 60.0,
        },
    },
    "soybean, weighed losses": {
        "summary": "Soybean, losses in percent with their standard errors, capacity at 2 %",
        "value": {
            "crop": "soybean",
            "yield_t_ha": 3.2,
            "cut_width_m": 9.0,
            "drop_tests": [
                {"ground_speed_km_h": 4.0, "machine_loss_pct": 0.9, "machine_loss_error_pct": 0.2},
                {"ground_speed_km_h": 5.0, "machine_loss_pct": 1.2, "machine_loss_error_pct": 0.25},
                {"ground_speed_km_h": 6.0, "machine_loss_pct": 2.3, "machine_loss_error_pct": 0.4},
            ],
            "loss_level_pct": 2.0,
            "price_per_t": 420.0,
            "currency": "EUR",
            "cost_per_h": 280.0,
        },
    },
}
