"""Feedback records: accept once, find, list, take back.

Inside: one function for each thing that a caller does, in the transaction it is handed. Outside: checking a
report (`feedback_reading`), who asks (`access`), statements (`store.feedback`).

The answer to a report is written before the record and in the same transaction, so that there is never the
one without the other: a retry gets the answer, and the record stands there once.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import asdict
from datetime import datetime, timedelta
from typing import Any, Final
from uuid import UUID

from service.domain.types import Message, Quantity
from service.errors import InvalidInput, KeyReused, NotFound, ServiceError, Withdrawn
from service.store import Session, audit, idempotency
from service.store import feedback as rows
from service.store.feedback import Kept
from service.store.idempotency import Claim, Stored
from service.store.tables import Feedback
from service.usecases.access import Caller, Contributor, contributor_of
from service.usecases.feedback_types import Entry, FeedbackQuestion, LossFound, Receipt, Report, Submission

STILL_THERE: Final = timedelta(hours=12)  # so long after a report the machine may be in the same field
LONG_AGO: Final = timedelta(days=730)  # nobody reports so late; a telephone that lost its clock does


def answered(session: Session, caller: Caller, keys: Sequence[UUID], now: datetime) -> Mapping[UUID, Stored]:
    """Return the answers that were given to the organisation under these keys within seven days."""
    return idempotency.find(session, caller.organisation_id, keys, now)


def same_request(stored: Stored, submission: Submission) -> str:
    """Return an answer that was given to this very request.

    Raises
    ------
    KeyReused
        If it was given to another one.
    """
    if stored.fingerprint != submission.fingerprint:
        raise KeyReused
    return stored.body


def accept(
    session: Session, caller: Caller, reports: Sequence[Report], now: datetime, write: Callable[[Receipt], str]
) -> list[str | ServiceError]:
    """Store reports; returns for each its answer, the one that was given when it came before, or its refusal.

    A refusal is one of whose report it is, or of a key that belongs to another request.

    Raises
    ------
    KeyInUse
        If another request holds one of the keys; then nothing is stored.
    """
    found: dict[int, str | ServiceError] = {}
    whose = _contributors(session, caller, reports, found)
    receipts = _receipts(session, caller, reports, whose, now)
    # of two with one key the first is the request, the second a retry
    first = {reports[place].submission.key: place for place in sorted(receipts, reverse=True)}
    answers = {place: Stored(reports[place].submission.fingerprint, write(receipts[place])) for place in first.values()}
    claims = [Claim(key, whose[place].member_id, answers[place]) for key, place in first.items()]
    earlier = idempotency.claim(session, caller.organisation_id, claims, now) if claims else {}
    fresh = [place for key, place in first.items() if key not in earlier]
    rows.add(session, [_row(caller, whose[place], receipts[place], reports[place].entry) for place in sorted(fresh)])
    idempotency.sweep(session, now)
    for place in receipts:
        submission = reports[place].submission
        stored = earlier.get(submission.key) or answers[first[submission.key]]
        found[place] = stored.body if stored.fingerprint == submission.fingerprint else KeyReused()
    return [found[place] for place in range(len(reports))]


def take_over(session: Session, caller: Caller, reports: Iterable[tuple[Entry, datetime]]) -> int:
    """Store a contributor's reports of earlier days, without an answer to each; returns how many."""
    contributor = contributor_of(session, caller, None)
    records = []
    for entry, at in reports:
        season = season_of(entry.question.observed_at, caller.season_starts_month)
        ident, key = rows.new_id(at), session_key(entry)
        receipt = Receipt(ident, contributor.pseudonym, at, season, key, 0, entry, _say(entry), ())
        records.append(_row(caller, contributor, receipt, entry))
    rows.add(session, records)
    return len(records)


def _contributors(
    session: Session, caller: Caller, reports: Sequence[Report], refused: dict[int, str | ServiceError]
) -> dict[int, Contributor]:
    whose: dict[int, Contributor] = {}
    known: dict[str | None, Contributor] = {}
    for place, report in enumerate(reports):
        named = report.entry.question.contributor
        try:
            known[named] = whose[place] = known.get(named) or contributor_of(session, caller, named)
        except InvalidInput as refusal:
            refused[place] = refusal
    return whose


def _receipts(
    session: Session, caller: Caller, reports: Sequence[Report], whose: dict[int, Contributor], now: datetime
) -> dict[int, Receipt]:
    groups = {place: (one.member_id, session_key(reports[place].entry)) for place, one in whose.items()}
    counts = rows.count_in_sessions(session, caller.organisation_id, set(groups.values())) if groups else {}
    made = {}
    for place, contributor in whose.items():
        entry, group = reports[place].entry, groups[place]
        neighbours = counts.get(group, 0)
        counts[group] = neighbours + 1
        made[place] = Receipt(
            id=rows.new_id(now),
            contributor=contributor.pseudonym,
            received_at=now,
            season=season_of(entry.question.observed_at, caller.season_starts_month),
            session=group[1],
            neighbours=neighbours,
            entry=entry,
            say=_say(entry),
            notes=tuple(_notes(entry, neighbours, now)),
        )
    return made


def session_key(entry: Entry) -> str:
    """Name the group of records that can be compared with each other: machine, field and local day."""
    question = entry.question
    parts = [question.machine, question.field or "-", question.observed_at.date().isoformat()]
    if question.session_group is not None:
        parts.append(question.session_group)
    return " / ".join(part.replace("/", "|") for part in parts)


def season_of(observed_at: datetime, starts_month: int) -> int:
    """Return the year in which the season of a moment began."""
    return observed_at.year if observed_at.month >= starts_month else observed_at.year - 1


def _say(entry: Entry) -> Message:
    machine = entry.losses.machine
    if machine is None:
        return Message("feedback.recorded", {"crop": entry.crop_names})
    return Message("feedback.recorded_loss", {"crop": entry.crop_names, "loss": Quantity(machine.share_pct, "%")})


def _notes(entry: Entry, neighbours: int, now: datetime) -> list[Message]:
    """What makes this report, and the next one, worth more."""
    question, found = entry.question, []
    if neighbours:
        found.append(Message("feedback.comparable", {"count": neighbours + 1}))
    elif now - question.observed_at < STILL_THERE:
        found.append(Message("feedback.ask_for_pair"))
    else:
        found.append(Message("feedback.ask_for_pair_next_time"))
    if now - question.observed_at > LONG_AGO:
        found.append(Message("feedback.long_ago", {"year": str(question.observed_at.year)}))
    if question.field is None:
        found.append(Message("feedback.no_field"))
    if not entry.settings and not neighbours:
        found.append(Message("feedback.no_settings"))
    if entry.losses.machine is not None and entry.losses.method is None:
        found.append(Message("feedback.no_method"))
    return [*found, *entry.losses.warnings]


def _row(caller: Caller, contributor: Contributor, receipt: Receipt, entry: Entry) -> Feedback:
    question, known = entry.question, entry.question.conditions
    return Feedback(
        id=receipt.id,
        organisation_id=caller.organisation_id,
        member_id=contributor.member_id,
        api_key_prefix=caller.key_prefix,
        received_at=receipt.received_at,
        observed_at=question.observed_at,
        observed_on=question.observed_at.date(),
        season=receipt.season,
        machine=question.machine,
        field=question.field,
        session_key=receipt.session,
        crop=entry.crop,
        machine_class=entry.machine_class,
        moisture_band=entry.moisture_band,
        grain_moisture_pct=known.grain_moisture_pct,
        yield_t_ha=entry.yield_t_ha,
        straw_condition=known.straw_condition,
        straw_to_grain=entry.straw_to_grain,
        stand=known.stand,
        slope_along_deg=known.slope_along_deg,
        slope_across_deg=known.slope_across_deg,
        use_for=known.use,
        priority=known.priority,
        conditions=_written(known),
        settings=dict(entry.settings),
        base=None if entry.base is None else dict(entry.base),
        suggested=None if entry.suggested is None else dict(entry.suggested),
        suggested_from=entry.suggested_from,
        advice=question.advice,
        advice_revision=question.advice_revision,
        trial_arm=question.trial_arm,
        trial_randomised=question.trial_randomised,
        **_outcomes(entry),
        **dict(zip(("latitude_deg", "longitude_deg"), entry.place or (None, None), strict=True)),
        knowledge_revision=entry.revision,
        knowledge_digest=entry.digest,
    )


def _outcomes(entry: Entry) -> dict[str, Any]:
    question = entry.question
    return {
        "loss_method": entry.losses.method,
        "frames": _frames(question),
        **_loss("machine", entry.losses.machine),
        **_loss("header", entry.losses.header),
        "broken_pct": question.broken_pct,
        "foreign_matter_pct": question.foreign_matter_pct,
        "returns_level": question.returns_level,
        "grain_throughput_t_h": entry.grain_throughput_t_h,
        "rating": question.rating,
        "note": question.note,
    }


def _frames(question: FeedbackQuestion) -> dict[str, Any] | None:
    """Everything that the losses were worked out from, beside the conditions."""
    if not question.frames:
        return None
    widths = ("discharge_width_m", "discharge_width_error_pct", "spreading")
    told = {name: getattr(question, name) for name in widths}
    found = {name: value for name, value in told.items() if value is not None}
    return found | {"sets": [_written(one) for one in question.frames]}


def _loss(place: str, found: LossFound | None) -> dict[str, float | None]:
    if found is None:
        return {}
    return {
        f"{place}_loss_kg_ha": found.kg_ha,
        f"{place}_loss_pct": found.share_pct,
        f"{place}_loss_low_pct": found.low_pct,
        f"{place}_loss_high_pct": found.high_pct,
    }


def _written(told: Any) -> dict[str, Any]:
    """What was told, without what was left out."""
    return {name: value for name, value in asdict(told).items() if value not in (None, ())}


def find(session: Session, caller: Caller, ident: UUID) -> Kept:
    """Return a record that the caller may see.

    Raises
    ------
    ScopeMissing
        If the key is not one to read.
    Withdrawn
        If the record was taken back.
    NotFound
        If there is none, or it is not the caller's to see.
    """
    caller.needs("read")
    found = rows.one(session, caller.sees, ident)
    if found is not None:
        return found
    raise Withdrawn if rows.was_withdrawn(session, caller.sees, ident) else NotFound


def withdraw(session: Session, caller: Caller, ident: UUID, now: datetime) -> None:
    """Take a record back; taking it back twice does nothing.

    Raises
    ------
    ScopeMissing
        If the key is not one to contribute or to administer.
    NotFound
        If there is none, or it is not the caller's.
    """
    if "administer" not in caller.scopes:
        caller.needs("contribute")
    found = rows.one(session, caller.may_withdraw, ident)
    if found is None:
        if rows.was_withdrawn(session, caller.may_withdraw, ident):
            return
        raise NotFound
    member_id = found.row.member_id
    rows.withdraw(session, found.row, now)
    audit.record(
        session,
        now,
        organisation_id=caller.organisation_id,
        actor=caller.actor,
        action="feedback withdrawn",
        subject=f"feedback {ident}",
        member=member_id,
    )
