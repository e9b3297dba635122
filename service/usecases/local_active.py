"""Which local table answers a question that names an organisation.

Inside: one look at the store, and tables read before. Outside: making, publishing and rolling back
(`refinement`, `local_tables`), laying it over the base (`local_overlay`).
"""

from functools import lru_cache

from service.errors import NotFound
from service.store import Store
from service.usecases import local_tables
from service.usecases.local_documents import read_table
from service.usecases.local_types import LocalTable

# the store is asked each time, so that what was published or taken back holds at once in every process;
# a document never changes, so that it need not be read twice
_read = lru_cache(maxsize=32)(read_table)


def active_table(store: Store, organisation: str) -> LocalTable | None:
    """Return the table of an organisation that holds, None where there is none.

    That an organisation exists, but has published nothing, is told as little as that it does not exist.

    Raises
    ------
    StoreMissing, StoreUnavailable
        If there is no store, or it cannot be used.
    """
    with store.reading() as session:
        try:
            found = local_tables.revision(session, organisation)
        except NotFound:
            return None
        return _read(found.document, found.digest)
