"""From checked requests for relearning and belt slip to the questions of their use cases."""

from fastapi import Request

from service.api.questions import remember, resolve
from service.api.reader import Reader
from service.api.requests_relearn import BeltSlipRequest, RelearnRequest
from service.usecases.belt_slip import SlipQuestion
from service.usecases.relearn_types import DoneTold, EventTold, RelearnQuestion


def relearn_question(request: RelearnRequest, reader: Reader) -> RelearnQuestion:
    """Return the question of a relearn request."""
    return RelearnQuestion(
        machine_class=request.machine_class,
        fitted=tuple(request.fitted),
        not_fitted=tuple(request.not_fitted),
        events=tuple(EventTold(**dict(told)) for told in request.events),
        last_done=tuple(DoneTold(**dict(told)) for told in request.last_done),
        hours_now=request.hours_now,
        today=request.today,
        revision=reader.revision,
    )


def slip_question(http: Request, request: BeltSlipRequest, reader: Reader) -> SlipQuestion:
    """Return the question of a belt-slip request."""
    resolved = resolve(request)
    remember(http, resolved.twins)
    return SlipQuestion(**resolved.values, revision=reader.revision)
