"""Examples of what a reviewer sends, for the documentation. A test sends each of them."""

from typing import Any, Final

PRICES: Final[dict[str, Any]] = {
    "prices": {
        "summary": "At the deductions of the buyers",
        "value": {"broken_price": 0.35, "foreign_matter_price": 0.4},
    }
}
DECISIONS: Final[dict[str, Any]] = {
    "decide": {
        "summary": "One row accepted, one refused",
        "value": {
            "decisions": [
                {"row": "wheat.hybrid.best", "decision": "accept"},
                {"row": "wheat.hybrid.damp", "decision": "refuse", "reason": "Two farms changed their sieves."},
            ]
        },
    }
}
RESTORE: Final[dict[str, Any]] = {"restore": {"summary": "Back to the first revision", "value": {"number": 1}}}
