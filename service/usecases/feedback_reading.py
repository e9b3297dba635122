"""A feedback question checked against the knowledge table, before any database is asked.

Inside: refusals, settings in metric units, what was suggested, throughput, the coarse place. Outside: losses
(`feedback_losses`), who reports and what is stored (`feedback`).
"""

from datetime import datetime, timedelta
from typing import Final, Literal

from service.domain.location import coarse_place
from service.errors import Contradiction, InvalidInput
from service.knowledge.schema import CropFile
from service.knowledge.table import KnowledgeTable
from service.units import convert
from service.usecases.adjustment_values import told_in_metric
from service.usecases.conditions import conditions
from service.usecases.feedback_losses import losses_of
from service.usecases.feedback_types import Entry, FeedbackQuestion
from service.usecases.refinement_base import starts_for_record
from service.usecases.settings_types import StartingSettings
from service.usecases.starting_settings import recommend

CLOCK_SLACK: Final = timedelta(minutes=10)  # clocks of telephones are off by so much without anyone noticing
_OUTCOMES: Final = (
    "broken_pct",
    "foreign_matter_pct",
    "returns_level",
    "grain_throughput_t_h",
    "grain_throughput_bu_h",
    "rating",
    "note",
)


def read_feedback(table: KnowledgeTable, question: FeedbackQuestion, now: datetime) -> Entry:
    """Check a report and work out what is stored of it.

    Raises
    ------
    UnknownName, OutOfRange, Contradiction, InvalidInput, OutsideWindow
        If it says what cannot be, or nothing at all.
    NotCovered
        If the table has no settings for this crop and class, which could be learned from it.
    """
    _refuse(question, now)
    start = recommend(table, question.conditions)
    crop = table.crop(question.conditions.crop)
    state = conditions(table, question.conditions, crop)
    losses = losses_of(table, crop, question, state.yield_t_ha)
    if losses.machine is None and losses.header is None and not any(_given(question, name) for name in _OUTCOMES):
        raise InvalidInput("", reason="reason.nothing_reported")
    suggested, suggested_from = _suggested(table, question, start)
    used = told_in_metric(table, start, question.settings_used, "settings_used")
    return Entry(
        question=question,
        crop=crop.id,
        crop_names=crop.names,
        machine_class=start.machine_class,
        moisture_band=start.moisture_band,
        yield_t_ha=state.yield_t_ha,
        straw_to_grain=state.straw_to_grain,
        settings={told.setting: told.value for told in used},
        suggested=suggested,
        suggested_from=suggested_from,
        losses=losses,
        grain_throughput_t_h=_throughput(crop, question),
        place=_place(question),
        revision=table.revision,
        digest=table.digest,
        base=starts_for_record(table, start),
    )


def _given(question: FeedbackQuestion, name: str) -> bool:
    return getattr(question, name) is not None


def _refuse(question: FeedbackQuestion, now: datetime) -> None:
    """Refuse what needs no table to be seen."""
    if question.observed_at > now + CLOCK_SLACK:
        raise InvalidInput("observed_at", reason="reason.in_the_future")
    if question.trial_randomised and question.trial_arm is None:
        raise Contradiction(["trial_randomised", "trial_arm"], "reason.randomised_without_arm")
    if question.suggested_settings and question.advice is None:
        raise Contradiction(["suggested_settings", "advice"], "reason.suggested_without_advice")
    if (question.advice is None) != (question.advice_revision is None):
        raise Contradiction(["advice", "advice_revision"], "reason.advice_and_revision")
    if _given(question, "latitude_deg") != _given(question, "longitude_deg"):
        raise Contradiction(["latitude_deg", "longitude_deg"], "reason.half_a_place")


def _suggested(
    table: KnowledgeTable, question: FeedbackQuestion, start: StartingSettings
) -> tuple[dict[str, float] | None, Literal["told", "computed"] | None]:
    """What the contributor was shown: as told, or worked out where the revision is the one that is served."""
    if question.suggested_settings:
        told = told_in_metric(table, start, question.suggested_settings, "suggested_settings")
        return {one.setting: one.value for one in told}, "told"
    if question.advice == "starting_settings" and question.advice_revision == table.revision:
        return {answer.id: answer.start for answer in start.settings}, "computed"
    return None, None


def _throughput(crop: CropFile, question: FeedbackQuestion) -> float | None:
    bushels = question.grain_throughput_bu_h
    if bushels is None:
        return question.grain_throughput_t_h
    if crop.physical.bushel_mass is None:
        raise InvalidInput("grain_throughput_bu_h", reason="reason.no_bushel", crop=crop.names)
    return convert(bushels * crop.physical.bushel_mass.value, "[lb_av]", "t")


def _place(question: FeedbackQuestion) -> tuple[float, float] | None:
    if question.latitude_deg is None or question.longitude_deg is None:
        return None
    place = coarse_place(question.latitude_deg, question.longitude_deg)
    return place.latitude_deg, place.longitude_deg
