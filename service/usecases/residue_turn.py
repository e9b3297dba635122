"""What becomes of a setting of the spreader after the headland turn, in words that hold for this very case.

Inside: whether the setting of the way back is the same, the mirror image or another one, and why. Outside:
which setting that is (`residue_changes`).

Offsets are counted from neutral, each in the direction of travel of its own pass.
"""

from typing import Final

from service.domain.spread_change import Side
from service.domain.types import Message, Quantity
from service.usecases.residue_types import SpreadQuestion, Turn

SAME_M: Final = 1e-6


def place_of(offset_m: float) -> Message:
    """Return an offset as a place: so far to the left or right of neutral."""
    if abs(offset_m) < SAME_M:
        return Message("offset.neutral")
    return Message("offset.left" if offset_m < 0 else "offset.right", {"offset": Quantity(abs(offset_m), "m")})


def offset_turn(question: SpreadQuestion, out_m: float, back_m: float) -> tuple[Turn, Message]:
    """Return what to do with an offset; both are counted from neutral."""
    facts: dict[str, object] = {"place": place_of(back_m)}
    if abs(back_m - out_m) < SAME_M:
        return "keep", Message("after_turn.keep_offset", facts)
    turn: Turn = "mirror" if abs(back_m + out_m) < SAME_M else "change"
    why = _why(question)
    return turn, Message(f"after_turn.{turn}_offset" if why else f"after_turn.{turn}_offset_plain", facts | why)


def blades_turn(question: SpreadQuestion, out: Side, back: Side) -> tuple[Turn, Message]:
    """Return what to do with blades or fan of one side, or with the throw."""
    if out == back:
        return "keep", Message("after_turn.keep")
    why = _why(question)
    return "mirror", Message(f"after_turn.mirror_{back}" if why else f"after_turn.mirror_{back}_plain", why)


def _why(question: SpreadQuestion) -> dict[str, object]:
    """Name what lies on the other side of the machine after the turn, and nothing that does not."""
    there = {
        "turn.standing_crop": question.standing_crop in ("left", "right"),
        "turn.wind": question.crosswind_m_s != 0,
        "turn.slope": question.slope_across_deg != 0,
    }
    why = [Message(name) for name, holds in there.items() if holds]
    return {"why": why} if why else {}
