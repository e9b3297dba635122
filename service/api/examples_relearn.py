"""Invented questions on relearning and belt slip for the documentation. A test asks each of them."""

from typing import Any, Final

RELEARN: Final[dict[str, Any]] = {
    "first morning in wheat": {
        "summary": "Walker machine, season begins, new fan belt, sieve taken out; what was done last year is known",
        "value": {
            "machine_class": "walker",
            "fitted": [
                "drum_speed_sensor",
                "fan_speed_sensor",
                "walker_speed_sensor",
                "sieve_actuators",
                "returns_sensor",
                "yield_sensor",
                "moisture_sensor",
                "loss_sensors",
                "ground_speed_sensor",
                "area_counter",
                "header_height_sensors",
            ],
            "not_fitted": ["spreader_actuators", "concave_actuators", "slope_sensor"],
            "hours_now": 1240.0,
            "today": "2026-07-20",
            "events": [
                {"event": "season_start", "date": "2026-07-20"},
                {"event": "belt_replaced", "part": "fan", "at_hours": 1239.0, "date": "2026-07-16"},
                {"event": "sieve_changed", "date": "2026-07-17"},
            ],
            "last_done": [
                {"task": "belts", "at_hours": 1239.0, "date": "2026-07-20"},
                {"task": "elevator_chains", "date": "2026-07-20"},
                {"task": "sieve_openings", "date": "2026-07-20"},
                {"task": "drum_speed_maximum", "at_hours": 1105.0, "date": "2025-07-28"},
                {"task": "yield_weighed", "date": "2025-08-02"},
                {"task": "returns_zero", "never": True},
            ],
        },
    },
    "middle of the season": {
        "summary": "Axial rotor, from wheat to canola with another header; last times in machine hours",
        "value": {
            "machine_class": "axial",
            "fitted": [
                "drum_speed_sensor",
                "fan_speed_sensor",
                "sieve_actuators",
                "concave_actuators",
                "yield_sensor",
                "moisture_sensor",
                "loss_sensors",
                "header_height_sensors",
                "area_counter",
            ],
            "not_fitted": ["ground_speed_sensor", "returns_sensor", "slope_sensor"],
            "events": [{"event": "new_crop", "hours_ago": 0.0}, {"event": "header_changed", "hours_ago": 0.5}],
            "last_done": [
                {"task": "belts", "hours_ago": 42.0},
                {"task": "elevator_chains", "hours_ago": 42.0},
                {"task": "drum_speed_maximum", "hours_ago": 85.0},
                {"task": "fan_speed_maximum", "hours_ago": 42.0},
                {"task": "sieve_end_stops", "hours_ago": 90.0},
                {"task": "header_height", "hours_ago": 0.5},
                {"task": "loss_sensors", "hours_ago": 60.0},
            ],
        },
    },
    "tyres changed": {
        "summary": "Nothing told but that tyres were changed",
        "value": {"fitted": ["ground_speed_sensor"], "events": [{"event": "tyres_changed"}]},
    },
}

BELT_SLIP: Final[dict[str, Any]] = {
    "fan drive under load, against its empty run": {
        "summary": "Both shafts measured empty in the morning and in full crop at noon",
        "value": {
            "driver_rpm": 1930.0,
            "driven_rpm": 1040.0,
            "load": "loaded",
            "expected_driver_rpm": 2000.0,
            "expected_driven_rpm": 1120.0,
            "expected_from": "empty_run",
            "transmitted_power_kw": 18.0,
        },
    },
    "elevator drive by its pulleys": {
        "summary": "Pulleys measured with a tape, in inches",
        "value": {
            "driver_rpm": 600.0,
            "driven_rpm": 352.0,
            "load": "loaded",
            "driver_diameter_in": 7.5,
            "driven_diameter_in": 12.5,
        },
    },
    "drum drive by its ratio": {
        "summary": "Ratio from the manual, running empty",
        "value": {"driver_rpm": 1000.0, "driven_rpm": 788.0, "load": "empty", "speed_ratio": 0.8},
    },
}
