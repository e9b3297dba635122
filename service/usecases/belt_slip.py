"""Belt slip from measured and expected shaft speeds: how much, how sure, and what to do.

Inside: which way the expected speed was told, statements that exclude each other, level and verdict. Outside:
the formulas (`domain/belt_slip`), how much slip is usual (relearn.toml).
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final, Literal

from service.domain.belt_slip import (
    combined_error_pct,
    pulley_ratio,
    slip_heat_kw,
    slip_limits,
    slip_pct,
    speed_without_slip_rpm,
)
from service.domain.types import Interval, Message, Quantity
from service.errors import Contradiction, InvalidInput
from service.knowledge.schema_relearn import RelearnFigures
from service.knowledge.table import KnowledgeTable
from service.usecases.provenance import proof
from service.usecases.relearn import relearn_file
from service.usecases.settings_types import Proof

Level = Literal["usual", "watch", "fault", "burning", "standing"]
Way = Literal["speeds", "ratio", "pulleys"]

CAUTIONS: Final = (
    "caution.tachometer_from_outside",
    "caution.running_machine_clear",
    "caution.stop_before_reaching_in",
    "caution.machine_manual_first",
)
_HOT: Final = "caution.hot_belt"
_WAYS: Final[dict[Way, tuple[str, ...]]] = {
    "speeds": ("expected_driven_rpm", "expected_driver_rpm"),
    "ratio": ("speed_ratio",),
    "pulleys": ("driver_diameter_mm", "driven_diameter_mm"),
}
_RANK: Final[dict[Level, int]] = {"usual": 0, "watch": 1, "fault": 2, "burning": 3, "standing": 4}
_HALF: Final = 50  # a belt that slips by half its speed does not last until it is measured


@dataclass(frozen=True, slots=True, kw_only=True)
class SlipQuestion:
    """Speeds as measured, and one way to what they should be.

    Expected are a pair of speeds, a ratio (driven per driving revolution), or two effective diameters.
    `expected_from` says where a pair comes from: the manual, or the same drive measured running empty.
    """

    driven_rpm: float
    load: Literal["empty", "loaded"]
    driver_rpm: float | None = None
    expected_driven_rpm: float | None = None
    expected_driver_rpm: float | None = None
    expected_from: Literal["manual", "empty_run"] = "manual"
    speed_ratio: float | None = None
    driver_diameter_mm: float | None = None
    driven_diameter_mm: float | None = None
    drive: Literal["fixed", "variable"] = "fixed"
    speed_error_pct: float | None = None
    diameter_error_pct: float | None = None
    transmitted_power_kw: float | None = None
    revision: str | None = None


@dataclass(frozen=True, slots=True)
class LevelSeen:
    """A level of slip: above how much it begins, and how that is known."""

    level: Level
    above_pct: float
    proof: Proof


@dataclass(frozen=True, slots=True)
class BeltSlip:
    """The whole answer."""

    say: Message
    level: Level
    sure: bool  # whether both shafts were measured and both ends of the interval are at the same level
    slip_pct: Interval
    expected_rpm: float
    measured_rpm: float
    ratio: float | None
    error_pct: float
    way: Way
    heat_kw: float | None
    to_do: tuple[Message, ...]
    levels: tuple[LevelSeen, ...]
    errors: tuple[Proof, ...]  # of the errors that were taken where none was told
    warnings: tuple[Message, ...]
    cautions: tuple[Message, ...]


def judge_slip(table: KnowledgeTable, question: SlipQuestion) -> BeltSlip:
    """Answer how much a belt slips and what that means.

    Raises
    ------
    UnknownName
        If the revision is not the one served.
    Contradiction, InvalidInput
        If the expected speed is told in two ways, in none or by half, or the shaft turns faster than it can.
    NotCovered
        If the table has no figures on belt slip.
    """
    figures = relearn_file(table, question.revision).figures
    way = _way(question)
    _refuse(question, way)
    ratio = _ratio(question, way)
    expected = _expected(question, ratio)
    error = _error(question, way, figures)
    slip = slip_limits(expected, question.driven_rpm, error)
    _refuse_impossible(question, way, ratio, expected, slip, figures)
    level = _level(slip.value, question.driven_rpm, figures)
    levels = _levels(figures)
    ends = [_level(end, question.driven_rpm, figures) for end in (slip.low, slip.high)]
    doubt = _RANK[ends[1]] - _RANK[ends[0]]
    power = question.transmitted_power_kw
    return BeltSlip(
        say=_say(question, level, slip, doubt, expected, figures),
        level=level,
        # an engine that falls under load looks like slip
        sure=not doubt and question.driver_rpm is not None,
        slip_pct=slip,
        expected_rpm=expected,
        measured_rpm=question.driven_rpm,
        ratio=ratio,
        error_pct=error,
        way=way,
        heat_kw=None if power is None or level == "standing" else slip_heat_kw(power, max(slip.value, 0.0)),
        to_do=tuple(Message(f"belt_slip.do.{code}") for code in _to_do(question, level, doubt)),
        levels=levels,
        errors=tuple(_error_proofs(question, way, figures)),
        warnings=tuple(_warnings(question, way, slip, level, doubt, levels)),
        cautions=tuple(Message(code) for code in ((_HOT, *CAUTIONS) if level != "usual" else CAUTIONS)),
    )


def _way(question: SlipQuestion) -> Way:
    """The one way in which the expected speed was told."""
    told = {way: [name for name in names if getattr(question, name) is not None] for way, names in _WAYS.items()}
    ways = [way for way, names in told.items() if names]
    if not ways:
        fields = ["expected_driven_rpm", "speed_ratio", "driver_diameter_mm"]
        raise InvalidInput(fields[0], reason="reason.one_of", fields=fields)
    if len(ways) > 1:
        raise Contradiction([told[way][0] for way in ways], "reason.slip_two_ways")
    return ways[0]


def _refuse(question: SlipQuestion, way: Way) -> None:
    """Refuse what is missing for the way, and what does not go with it."""
    given = {name for name in _OPTIONAL if getattr(question, name) is not None}
    if way == "pulleys" and not given.issuperset(_WAYS["pulleys"]):
        missing = next(name for name in _WAYS["pulleys"] if name not in given)
        raise InvalidInput(missing, reason="reason.slip_two_diameters")
    if way == "speeds" and "expected_driven_rpm" not in given:
        raise InvalidInput("expected_driven_rpm", reason="reason.slip_driven_missing")
    if "driver_rpm" not in given and (way != "speeds" or "expected_driver_rpm" in given):
        raise InvalidInput("driver_rpm", reason="reason.slip_driver_missing")
    if question.expected_from == "empty_run":
        if way != "speeds":
            raise Contradiction(["expected_from", _WAYS[way][0]], "reason.slip_empty_run_speeds")
        if "expected_driver_rpm" not in given:
            raise InvalidInput("expected_driver_rpm", reason="reason.slip_empty_run_pair")
    if way == "pulleys" and question.drive == "variable":
        raise Contradiction(["drive", "driver_diameter_mm"], "reason.slip_variable_diameters")
    if way != "pulleys" and "diameter_error_pct" in given:
        raise Contradiction(["diameter_error_pct", _WAYS[way][0]], "reason.slip_no_diameters")


_OPTIONAL: Final = ("driver_rpm", "diameter_error_pct", *(name for names in _WAYS.values() for name in names))


def _ratio(question: SlipQuestion, way: Way) -> float | None:
    """Driven per driving revolution without slip; None where the driving shaft was not measured."""
    if way == "ratio":
        return question.speed_ratio
    if way == "pulleys":
        return pulley_ratio(question.driver_diameter_mm or 0.0, question.driven_diameter_mm or 0.0)
    if question.driver_rpm is None:
        return None
    # without a driving speed of its own the expected one is that at the driving speed that was measured
    return (question.expected_driven_rpm or 0.0) / (question.expected_driver_rpm or question.driver_rpm)


def _expected(question: SlipQuestion, ratio: float | None) -> float:
    if ratio is None or question.driver_rpm is None:
        return question.expected_driven_rpm or 0.0
    return speed_without_slip_rpm(question.driver_rpm, ratio)


def _error(question: SlipQuestion, way: Way, figures: RelearnFigures) -> float:
    """Standard error of measured over expected speed: one part for every reading in it."""
    speed = question.speed_error_pct
    each = figures.speed_reading_error.value if speed is None else speed
    measured_driver = question.driver_rpm is not None and (way != "speeds" or question.expected_driver_rpm is not None)
    readings = 1 + measured_driver + 2 * (question.expected_from == "empty_run")
    parts = [each] * readings
    if way == "pulleys":
        diameter = question.diameter_error_pct
        parts += [figures.diameter_error.value if diameter is None else diameter] * 2
    return combined_error_pct(parts)


def _error_proofs(question: SlipQuestion, way: Way, figures: RelearnFigures) -> Iterator[Proof]:
    if question.speed_error_pct is None:
        yield proof(figures.speed_reading_error)
    if way == "pulleys" and question.diameter_error_pct is None:
        yield proof(figures.diameter_error)


def _refuse_impossible(
    question: SlipQuestion,
    way: Way,
    ratio: float | None,
    expected: float,
    slip: Interval,
    figures: RelearnFigures,
) -> None:
    """Refuse a shaft that turns faster than its pulleys let it, and a ratio that fits only upside down."""
    fields = ["driven_rpm", *(name for name in _WAYS[way] if getattr(question, name) is not None)]
    too_fast = _told(slip.high) < 0
    if not too_fast and slip.value <= _HALF:
        return
    if ratio is not None and question.driver_rpm is not None:
        turned = slip_pct(question.driver_rpm / ratio, question.driven_rpm)
        # near a ratio of one both ways round say the same
        if abs(turned) <= figures.slip_burning.value and 2 * abs(turned) < abs(slip.value):
            raise Contradiction(fields, "reason.slip_upside_down")
    if too_fast:
        facts = {"expected": Quantity(expected, "{rev}/min"), "measured": Quantity(question.driven_rpm, "{rev}/min")}
        raise Contradiction(fields, "reason.slip_too_fast", **facts)


def _told(slip: float) -> float:
    """Slip as the answer tells it, so that what is read is what is judged and a border is one."""
    return round(slip, 2)


def _level(slip: float, measured_rpm: float, figures: RelearnFigures) -> Level:
    if measured_rpm == 0:
        return "standing"
    slip = _told(slip)
    if slip > figures.slip_burning.value:
        return "burning"
    if slip > figures.slip_fault.value:
        return "fault"
    return "watch" if slip > figures.slip_usual.value else "usual"


def _levels(figures: RelearnFigures) -> tuple[LevelSeen, ...]:
    named: list[tuple[Level, str]] = [("watch", "slip_usual"), ("fault", "slip_fault"), ("burning", "slip_burning")]
    return tuple(LevelSeen(level, getattr(figures, n).value, proof(getattr(figures, n))) for level, n in named)


def _say(
    question: SlipQuestion, level: Level, slip: Interval, doubt: int, expected: float, figures: RelearnFigures
) -> Message:
    if level == "standing":
        return Message("belt_slip.say.standing" if question.driver_rpm is not None else "belt_slip.say.standing_alone")
    facts = {
        "slip": Quantity(_told(slip.value), "%"),
        "low": Quantity(max(0.0, slip.low), "%"),
        "high": Quantity(slip.high, "%"),
        "limit": Quantity(getattr(figures, _LIMIT[level]).value, "%"),
    }
    none = {
        "measured": Quantity(question.driven_rpm, "{rev}/min"),
        "expected": Quantity(expected, "{rev}/min"),
        "high": facts["high"],
    }
    if doubt > 1:
        return Message("belt_slip.say.unsure_none", none) if slip.value <= 0 else Message("belt_slip.say.unsure", facts)
    if question.driver_rpm is None and level != "usual":
        burning = "_burning" if level == "burning" else ""
        return Message(f"belt_slip.say.driver_unknown{burning}", facts | {"expected": none["expected"]})
    code: str = level
    if level == "usual" and _told(slip.low) <= 0:
        code, facts = "none", none
    empty = "_empty" if level == "usual" and question.load == "empty" else ""
    return Message(f"belt_slip.say.{code}{empty}", facts)


# figure that a level is compared with: it begins above it, the usual one ends at it
_LIMIT: Final[dict[Level, str]] = {
    "usual": "slip_usual",
    "watch": "slip_usual",
    "fault": "slip_fault",
    "burning": "slip_burning",
}


def _to_do(question: SlipQuestion, level: Level, doubt: int) -> Iterator[str]:
    """What to do, in this order."""
    if doubt > 1 and level not in ("burning", "standing"):
        yield "compare_empty"
    if level in ("burning", "standing"):
        yield "stop"
    if question.driver_rpm is None and level not in ("usual", "standing"):
        yield "measure_both"
    if level != "usual":
        yield "look"
        yield "tension"
    if level in ("fault", "burning", "standing"):
        yield "why_overloaded"
        yield "replace"
    if question.load == "empty":
        yield "measure_loaded"
    elif level != "usual":
        yield "measure_again"
    if level != "usual":
        yield "relearn"


def _warnings(
    question: SlipQuestion, way: Way, slip: Interval, level: Level, doubt: int, levels: tuple[LevelSeen, ...]
) -> Iterator[Message]:
    for one in levels:
        if _told(slip.value) == one.above_pct:
            yield Message("belt_slip.on_the_border", {"limit": Quantity(one.above_pct, "%")})
    if doubt and level != "standing":
        facts = {"low": Quantity(max(0.0, slip.low), "%"), "high": Quantity(slip.high, "%")}
        yield Message("belt_slip.unsure", facts)
    if slip.value > _HALF and level != "standing":
        yield Message("belt_slip.hardly_possible")
    if question.driver_rpm is None:
        yield Message("belt_slip.engine_speed")
    elif way == "speeds" and question.expected_driver_rpm is None:
        yield Message("belt_slip.at_this_speed")
    if way == "pulleys":
        yield Message("belt_slip.effective_diameters")
    if question.expected_from == "empty_run":
        yield Message("belt_slip.beyond_empty")
    if question.drive == "variable":
        yield Message("belt_slip.variable")
