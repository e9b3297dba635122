"""The symptoms that a next adjustment takes, in the reader's language."""

import math
from typing import Any

from service.api import answers_catalogue as out
from service.api.reader import Reader
from service.api.showing import Showing
from service.domain.advice_scale import severity_log_amount
from service.domain.types import Message
from service.knowledge.influence_schema import Outcome, TellTale
from service.knowledge.schema import Evidence

SEVERITIES = range(6)


def present_symptoms(reader: Reader) -> out.SymptomList:
    """Return every symptom with where to look first, its second signs and the mistakes behind it."""
    show = Showing(reader)
    return out.SymptomList(
        knowledge=show.knowledge(),
        symptoms=[_symptom(show, outcome) for outcome in reader.table.influence.outcomes if outcome.symptom],
        severities=[_severity(show, grade) for grade in SEVERITIES],
        sources=show.references(),
    )


def _symptom(show: Showing, outcome: Outcome) -> out.SymptomOut:
    file = show.reader.table.influence.file
    mistakes = [mistake for mistake in file.mistake if outcome.id in mistake.symptoms]
    return out.SymptomOut(
        id=outcome.id,
        name=show.name(outcome.names),
        outcome=outcome.id,
        kind=outcome.kind,
        look_first=show.name(outcome.look or outcome.names),
        groups=list(outcome.groups),
        measured_as=outcome.measured_as,
        checks=show.notes(Message(f"check.{mistake.id}") for mistake in mistakes),
        tell_tales=[_tell_tale(show, tell) for tell in file.tell_tale if tell.symptom == outcome.id],
        **_evidence(show, outcome),
    )


def _tell_tale(show: Showing, tell: TellTale) -> out.TellTaleOut:
    names = show.reader.table.vocabulary
    return out.TellTaleOut(
        id=tell.id,
        text=show.text(f"tell_tale.{tell.id}"),
        check=None if tell.check is None else show.note(Message(f"check.{tell.check}")),
        points_to=[
            out.PullOut(setting=pull.setting, name=show.name(names[pull.setting].names), direction=pull.direction)
            for pull in tell.pulls
        ],
        **_evidence(show, tell),
    )


def _severity(show: Showing, grade: int) -> out.SeverityOut:
    amount = show.amount(math.exp(severity_log_amount(grade)), "1")
    return out.SeverityOut(severity=grade, text=show.text(f"severity.{grade}"), amount=amount)


def _evidence(show: Showing, entry: Evidence) -> dict[str, Any]:
    return {"basis": entry.basis, "known": entry.known, "sources": show.places(entry.source)}
