"""Bringing a database to the newest schema, by the migrations of the package."""

from importlib.resources import files
from typing import Final

from alembic import command
from alembic.config import Config
from sqlalchemy import exc, text

from service.errors import StoreUnavailable
from service.store.engine import Store, reason_unusable
from service.store.schema import NEWEST

_LOCK: Final = 7305491  # of ours alone: two upgrades at once would both find an empty database


def upgrade(store: Store) -> str:
    """Bring a database to the newest schema, making the file of an embedded one; returns the revision.

    Raises
    ------
    StoreUnavailable
        If the database cannot be reached or changed.
    """
    config = migrations()
    try:
        if store.file is not None:
            store.file.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
            if not store.file.exists():
                store.file.touch(mode=0o600)  # what members reported is nobody else's on this machine
        with store.engine.execution_options(writes=True).begin() as connection:
            if connection.dialect.name == "postgresql":
                # others may be reading: better to fail at once than to make everyone wait behind us
                connection.execute(text("SET LOCAL lock_timeout = '4s'; SET LOCAL statement_timeout = 0"))
                connection.execute(text(f"SELECT pg_advisory_xact_lock({_LOCK})"))
            config.attributes["connection"] = connection
            command.upgrade(config, "head")
    except OSError as error:
        raise StoreUnavailable(str(error)) from error
    except exc.SQLAlchemyError as error:
        raise StoreUnavailable(reason_unusable(error) or str(error)) from error
    return NEWEST


def migrations() -> Config:
    """Return the settings that Alembic finds the migrations by."""
    config = Config()
    # a percent sign begins a substitution there
    config.set_main_option("script_location", str(files("service.store") / "migrations").replace("%", "%%"))
    return config
