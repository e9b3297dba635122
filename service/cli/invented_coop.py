"""An invented co-op, for trying things out: no farm, machine or figure of it is real.

Inside: its members, and what they would report if the best settings of wheat lay a little beside the base table.
Outside: everything that is done with the reports. Every name begins with `invented`.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from typing import Final

import numpy as np

from service.knowledge.table import KnowledgeTable
from service.store import Session
from service.usecases import organisations
from service.usecases.access import Caller
from service.usecases.feedback import take_over
from service.usecases.feedback_reading import read_feedback
from service.usecases.feedback_types import Entry, FeedbackQuestion, Losses, LossFound
from service.usecases.refinement_base import Base, base_of
from service.usecases.refinement_method import OUTCOMES
from service.usecases.settings_types import SettingsQuestion

NAME: Final = "invented-co-op"
CROP: Final = "wheat"
MACHINE_CLASS: Final = "hybrid"
# where the best of this invented region lies, in half envelopes from the start of the base table
TRUTH: Final = {
    "threshing_speed": -0.35,
    "concave_clearance_outlet": 0.3,
    "cleaning_air_speed": 0.25,
    "upper_sieve_opening": -0.2,
}
MOISTURES_PCT: Final = {"dry": 11.0, "best": 15.0, "damp": 19.5}
_USUAL_PCT: Final = (0.9, 1.1, 0.9)
_SCATTER: Final = (0.3, 0.25, 0.3)
# a faster drum loses less and breaks more; at the truth the two balance at the usual prices
_DRUM: Final = (-0.5, 0.5 * 0.9 / (0.35 * 1.1), 0.0)
_CURVATURE: Final = 0.6


@dataclass(frozen=True, slots=True)
class Invented:
    """One invented report and when it arrived."""

    member: int
    question: FeedbackQuestion
    settings: dict[str, float]
    amounts_pct: tuple[float, ...]
    at: datetime


def found(session: Session, now: datetime, members: int, name: str = NAME) -> list[Caller]:
    """Make the organisation and its members; returns a caller for each of them."""
    made = organisations.create(session, name, 1, now)
    callers = []
    for number in range(1, members + 1):
        member = organisations.add_member(session, made, f"invented-farm-{number}", now)
        callers.append(
            Caller(made.id, name, 1, member.id, member.pseudonym, "invented", frozenset({"read", "contribute"}))
        )
    return callers


def fill(
    session: Session,
    table: KnowledgeTable,
    callers: Sequence[Caller],
    now: datetime,
    *,
    sessions: int = 40,
    seed: int = 1,
    liars: int = 0,
) -> int:
    """Store reports of the season before `now`, three a session; returns how many."""
    base = base_of(table, CROP, MACHINE_CLASS)
    entries = {cell: _entry(table, moisture, now) for cell, moisture in MOISTURES_PCT.items()}
    told = list(reports(base, len(callers), now, sessions=sessions, seed=seed, liars=liars))
    return sum(
        take_over(
            session,
            caller,
            [(_told(entries[str(one.question.note)], one), one.at) for one in told if one.member == member],
        )
        for member, caller in enumerate(callers)
    )


def reports(base: Base, members: int, now: datetime, *, sessions: int, seed: int, liars: int = 0) -> Iterator[Invented]:
    """Yield invented reports: a day on a field, then one setting changed, then another; all measured again."""
    rng = np.random.default_rng(seed)
    names = [one.setting for one in base.settings]
    truth = np.array([TRUTH.get(name, 0.0) for name in names])
    habit, level = rng.normal(0, 0.2, (members, len(names))), rng.normal(0, 0.25, (members, len(OUTCOMES)))
    for number in range(sessions):
        for member in range(members):
            day = now - timedelta(days=3 + 60 * (sessions - number) / sessions)
            at = day.replace(hour=9, minute=0) + timedelta(minutes=member)
            cell = list(MOISTURES_PCT)[int(rng.integers(3))]
            unseen, coded = rng.normal(0, 0.3), habit[member] + rng.normal(0, 0.15, len(names))
            for step in range(3):
                if step:
                    lever = (number + member + step) % len(names)
                    coded[lever] += float(rng.choice([-1, 1])) * rng.uniform(0.15, 0.35)
                coded = np.clip(coded, -1, 1)
                lies = member >= members - liars
                amounts = _lied(rng, coded) if lies else _measured(rng, names, coded - truth, level[member] + unseen)
                yield _report(base, member, number, cell, coded, amounts, at + timedelta(minutes=40 * step))


def _measured(rng: np.random.Generator, names: list[str], away: np.ndarray, level: np.ndarray) -> tuple[float, ...]:
    drum = away[names.index("threshing_speed")]
    logs = [
        math.log(usual) + slope * drum + _CURVATURE * float(away @ away) + add + rng.normal(0, scatter)
        for usual, slope, add, scatter in zip(_USUAL_PCT, _DRUM, level, _SCATTER, strict=True)
    ]
    slip = 10.0 if rng.random() < 0.02 else 1.0  # now and then a decimal point slips
    return tuple(min(60.0, slip * math.exp(one)) for one in logs)


def _lied(rng: np.random.Generator, coded: np.ndarray) -> tuple[float, ...]:
    """What somebody would tell who wants the table to go to the far end of everything."""
    far = -1.2 * float(coded.sum())
    return tuple(min(60.0, usual * math.exp(far + rng.normal(0, 0.1))) for usual in _USUAL_PCT)


def _report(
    base: Base,
    member: int,
    number: int,
    cell: str,
    coded: np.ndarray,
    amounts: tuple[float, ...],
    at: datetime,
) -> Invented:
    question = FeedbackQuestion(
        conditions=SettingsQuestion(
            crop=CROP, machine_class=MACHINE_CLASS, grain_moisture_pct=MOISTURES_PCT[cell], yield_t_ha=8.0
        ),
        observed_at=at,
        machine=f"invented machine {member + 1}",
        field=f"invented field {number + 1}",
        session_group=f"day {number + 1}",  # a day that runs past midnight is one day still
        loss_method="pans",
        note=cell,
    )
    settings = {one.setting: float(u) for one, u in zip(base.settings, coded, strict=True)}
    return Invented(member, question, settings, amounts, at)


def _entry(table: KnowledgeTable, moisture_pct: float, now: datetime) -> Entry:
    """A checked report for a moisture; the table is asked once for all that are like it."""
    conditions = SettingsQuestion(
        crop=CROP, machine_class=MACHINE_CLASS, grain_moisture_pct=moisture_pct, yield_t_ha=8.0
    )
    question = FeedbackQuestion(conditions=conditions, observed_at=now, machine="invented", broken_pct=1.0)
    return read_feedback(table, question, now.astimezone(UTC))


def _told(entry: Entry, one: Invented) -> Entry:
    starts = (entry.base or {})["settings"]
    settings = {}
    for name, coded in one.settings.items():
        start, low, high = starts[name]
        settings[name] = start + coded * (high - low) / 2
    loss, broken, foreign = one.amounts_pct
    kg_ha = 80.0 * loss / (1 - loss / 100)  # of 8 t/ha in the tank
    question = replace(one.question, broken_pct=broken, foreign_matter_pct=foreign)
    losses = Losses(machine=LossFound(kg_ha, loss), method="pans")
    return replace(entry, question=question, settings=settings, losses=losses)
