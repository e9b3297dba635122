"""`threshbook serve` and `threshbook openapi`: run the service, write its description."""

import multiprocessing
import os
import signal
import sys
import threading
from multiprocessing.process import BaseProcess
from pathlib import Path
from typing import Annotated

import typer
import uvicorn
from fastapi import FastAPI
from pydantic import ValidationError

from service.api.app import create_app, openapi_text
from service.cli.console import complain
from service.config import PREFIX, Settings, settings_table
from service.errors import StoreUnavailable
from service.knowledge.load import load_table
from service.store import open_store, schema

_HELP = {
    line.name: f"{line.help} [{line.variable}{'=' + line.default if line.default else ''}]" for line in settings_table()
}


def serve(
    host: Annotated[str | None, typer.Option(help=_HELP["host"])] = None,
    port: Annotated[int | None, typer.Option(help=_HELP["port"])] = None,
    workers: Annotated[int | None, typer.Option(help=_HELP["workers"])] = None,
    extra_crops: Annotated[Path | None, typer.Option(help=_HELP["extra_crops"])] = None,
    database_url: Annotated[str | None, typer.Option(help=_HELP["database_url"])] = None,
) -> None:
    """Run the service. Each option may also stand in the environment; the option wins."""
    given = {
        "host": host,
        "port": port,
        "workers": workers,
        "extra_crops": extra_crops,
        "database_url": database_url,
    }
    # worker processes read the environment, so the options go there
    os.environ.update({PREFIX + name.upper(): str(value) for name, value in given.items() if value is not None})
    settings = _settings()
    complain(_feedback(settings))
    application: FastAPI | str
    if settings.workers == 1:
        application = create_app(settings)
    else:
        load_table(extra_crops=settings.extra_crops)  # a fault shall be told once, not by every worker
        application = "service.cli.serve:worker"
    uvicorn.run(
        application,
        factory=settings.workers > 1,
        host=settings.host,
        port=settings.port,
        workers=settings.workers,
        log_level=settings.log_level,
        server_header=False,
        timeout_graceful_shutdown=10,
    )


def _feedback(settings: Settings) -> str:
    """Say where feedback goes; a store that is away keeps nobody from being advised."""
    store = open_store(settings.database_url)
    if not store.named and not store.exists:
        return "Feedback is not kept: there is no store. `threshbook org create` makes one."
    try:
        schema.ready(store)
    except StoreUnavailable as away:
        return f"Feedback cannot be kept, advice can be given: {away.facts['why']}"
    finally:
        store.engine.dispose()
    return f"Feedback is kept in {store.address}"


def worker() -> FastAPI:
    """Build the application of one worker process, which ends when the process that started it is gone."""
    parent = multiprocessing.parent_process()
    if parent is not None:
        threading.Thread(target=_end_with, args=(parent,), daemon=True).start()
    return create_app(Settings())


def _end_with(parent: BaseProcess) -> None:
    """Wait for the parent to end; a worker left alone would hold the port with nobody to stop it."""
    parent.join()
    os.kill(os.getpid(), signal.SIGTERM)


def openapi(
    write: Annotated[Path | None, typer.Option(help="File to write; without it, to the screen.")] = None,
) -> None:
    """Write the OpenAPI description of the service."""
    text = openapi_text(create_app(Settings(extra_crops=None)))
    if write is None:
        sys.stdout.write(text)
    else:
        write.parent.mkdir(parents=True, exist_ok=True)
        write.write_text(text, encoding="utf-8")


def _settings() -> Settings:
    try:
        return Settings()
    except ValidationError as error:
        complain(*(f"{'.'.join(map(str, one['loc']))}: {one['msg']}" for one in error.errors()))
        raise typer.Exit(1) from None
