"""`python -m service.cli` is the same as `threshbook`."""

from service.cli import app

app()
