"""Invented trays and yields for the documentation. A test asks each of them."""

from typing import Any, Final

_NINE_M: Final = [round(-6.0 + 0.75 * number, 2) for number in range(17)]
_TEN_M: Final = [float(number) for number in range(-8, 9)]

RESIDUE_SPREAD: Final[dict[str, Any]] = {
    "wheat, straw and chaff apart": {
        "summary": "Winter wheat, 9 m cut, straw and chaff weighed apart, wind of 3 m/s from the left",
        "value": {
            "crop": "wheat",
            "cut_width_m": 9.0,
            "standing_crop": "right",
            "positions_m": _NINE_M,
            "straw_g": [0, 3, 18, 44, 58, 63, 66, 70, 74, 71, 65, 60, 52, 36, 14, 2, 0],
            "chaff_g": [0, 0, 5, 14, 24, 30, 34, 38, 40, 37, 33, 28, 20, 10, 3, 0, 0],
            "tray_area_m2": 0.25,
            "crosswind_m_s": 3.0,
            "swath_spacings_m": [9.0, 8.5, 8.0],
        },
    },
    "soybean, feet": {
        "summary": "Soybean, 30 ft cut, trays a yard apart, thrown to the right, still air",
        "value": {
            "crop": "soybean",
            "cut_width_ft": 30.0,
            "standing_crop": "left",
            "positions_ft": [3.0 * number for number in range(-6, 8)],
            "residue_g": [0, 6, 20, 34, 46, 55, 62, 66, 68, 66, 60, 44, 20, 5],
            "tray_area_ft2": 2.5,
            "driving": "round_and_round",
        },
    },
    "barley on a side slope": {
        "summary": "Barley, 10.5 m cut, side slope of 8 degrees falling to the left, offset already set",
        "value": {
            "crop": "barley",
            "cut_width_m": 10.5,
            "standing_crop": "left",
            "positions_m": _TEN_M,
            "residue_g": [0, 2, 10, 26, 40, 48, 52, 55, 56, 55, 53, 50, 46, 38, 24, 9, 1],
            "lateral_offset_m": 0.4,
            "lateral_offset_max_m": 1.5,
            "slope_across_deg": -8.0,
        },
    },
}

RESIDUE_AMOUNT: Final[dict[str, Any]] = {
    "wheat": {
        "summary": "Winter wheat at 8 t/ha, straw at 12 % moisture, laid in a swath of 1.8 m",
        "value": {
            "crop": "wheat",
            "yield_t_ha": 8.0,
            "grain_moisture_pct": 14.0,
            "residue_moisture_pct": 12.0,
            "cut_width_m": 9.0,
            "laid_width_m": 1.8,
        },
    },
    "maize, bushels": {
        "summary": "Maize at 180 bu/ac, usual ratios",
        "value": {"crop": "maize", "yield_bu_ac": 180.0},
    },
    "canola, own ratios": {
        "summary": "Canola at 2.5 t/ha, cut high",
        "value": {"crop": "canola", "yield_t_ha": 2.5, "straw_to_grain": 2.0, "straw_intake_share_pct": 35.0},
    },
}
