"""The one sentence on a spread: which change is advised, what it brings, or that the wind is too strong.

Inside: the choice of the change, the sentence. Outside: what each change does (`residue_changes`).
"""

from typing import Final

from service.domain.types import Message, Quantity
from service.usecases.residue_changes import Field
from service.usecases.residue_turn import place_of
from service.usecases.residue_types import Air, Correction, Outlook

KM_H: Final = 3.6


def best_of(field: Field, base: Correction, found: tuple[Correction, ...]) -> Correction | None:
    """Return the change that helps most, if one is wanted and helps more than trays can tell."""
    figures, seen = field.trays.figures, base.outlook
    fine = seen.cv_pct <= figures.cv_good.value and seen.aside <= 0
    if fine or not found or found[0].gain < figures.gain_least.value:
        return None
    return found[0]


def decision(field: Field, base: Correction, best: Correction | None, air: Air) -> Message:
    """Say what to do, with what it brings; in too much wind, that first."""
    advised = _advised(field, base, best)
    wind_from = "left" if air.crosswind_m_s > 0 else "right"
    limit = next(one for one in air.limits if one.wind_from == wind_from)
    strength = abs(air.crosswind_m_s)
    if limit.careful_m_s is None or strength <= limit.careful_m_s:
        return advised
    high: Quantity | Message = Message("wind.beyond", {"wind": _wind(limit.looked_up_to_m_s)})
    if limit.latest_m_s is not None:
        high = _wind(limit.latest_m_s)
    facts: dict[str, object] = {"wind": _wind(strength), "low": _wind(limit.careful_m_s), "high": high}
    if limit.latest_m_s is None or strength <= limit.latest_m_s:
        return Message(f"decision.residue_wind_doubtful_{wind_from}", {**facts, "otherwise": advised})
    return Message(f"decision.residue_wind_{wind_from}", facts | _varies(field, base.outlook))


def _wind(speed_m_s: float) -> Quantity:
    return Quantity(round(speed_m_s * KM_H), "km/h")


def _varies(field: Field, seen: Outlook) -> dict[str, object]:
    return {"cv": Quantity(round(seen.cv_pct), "%"), "spacing": Quantity(field.spacing_m, "m")}


def _advised(field: Field, base: Correction, best: Correction | None) -> Message:
    if best is None:
        good = base.outlook.cv_pct <= field.trays.figures.cv_good.value
        facts = _varies(field, base.outlook)
        if good and base.outlook.aside >= field.trays.figures.gain_least.value:
            return Message("decision.residue_aside", facts)
        return Message("decision.residue_leave" if good else "decision.residue_no_single_change", facts)
    facts = {"outcome": _outcome(field, base.outlook, best.outlook)}
    if best.change_m is None or best.offset_m is None:
        return Message(f"decision.residue_{best.code}", facts)
    if best.change_m == 0:
        back = place_of(best.return_offset_m or 0.0)
        return Message("decision.residue_offset_return", {**facts, "place": back})
    facts |= {"change": Quantity(abs(best.change_m), "m"), "place": place_of(best.offset_m)}
    return Message(f"decision.residue_offset_{'left' if best.change_m < 0 else 'right'}", facts)


def _outcome(field: Field, now: Outlook, after: Outlook) -> list[Message]:
    """What the change brings and what it costs, the most first; what trays could not tell apart, is not told."""
    least, good = field.trays.figures.gain_least.value, field.trays.figures.side_good.value
    found = [(abs(after.cv_pct - now.cv_pct), _variation(field, now, after))]
    if now.standing_pct is not None and after.standing_pct is not None:
        found += _share("standing", now.standing_pct, after.standing_pct, least)
    if max(abs(now.right_pct - 50), abs(after.right_pct - 50)) > good:
        found += _share("right", now.right_pct, after.right_pct, least)
    return [message for _, message in sorted(found, key=lambda one: -one[0])]


def _variation(field: Field, now: Outlook, after: Outlook) -> Message:
    facts: dict[str, object] = {
        "spacing": Quantity(field.spacing_m, "m"),
        "after": Quantity(round(after.cv_pct), "%"),
    }
    if abs(after.cv_pct - now.cv_pct) < field.trays.figures.gain_least.value:
        return Message("spread.varies_same", facts)
    return Message("spread.varies", {**facts, "now": Quantity(round(now.cv_pct), "%")})


def _share(code: str, now: float, after: float, least: float) -> list[tuple[float, Message]]:
    if abs(after - now) < least:
        return []
    facts = {"now": Quantity(round(now), "%"), "after": Quantity(round(after), "%")}
    return [(abs(after - now), Message(f"spread.{code}", facts))]
