"""From checked requests on straw and chaff to their questions, in metric units."""

from fastapi import Request

from service.api.questions import frozen, remember, resolve
from service.api.reader import Reader
from service.api.requests_residue import ResidueAmountRequest, ResidueSpreadRequest
from service.errors import InvalidInput
from service.usecases.residue_types import AmountQuestion, SpreadQuestion


def spread_question(http: Request, request: ResidueSpreadRequest, reader: Reader) -> SpreadQuestion:
    """Return the question of a residue-spread request.

    Raises
    ------
    Contradiction
        If a field and its twin are both given.
    InvalidInput
        If there is no cut width or no position.
    """
    resolved = resolve(request)
    remember(http, resolved.twins)
    if not resolved.values.get("positions_m"):
        raise InvalidInput("positions_m", reason="reason.one_of", fields=["positions_m", "positions_ft"])
    return SpreadQuestion(**frozen(resolved.values), revision=reader.revision)


def amount_question(http: Request, request: ResidueAmountRequest, reader: Reader) -> AmountQuestion:
    """Return the question of a residue-amount request.

    Raises
    ------
    Contradiction
        If a field and its twin are both given.
    """
    resolved = resolve(request)
    remember(http, resolved.twins)
    return AmountQuestion(**resolved.values, revision=reader.revision)
