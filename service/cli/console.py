"""Where the command line writes, and how wide."""

import sys
from typing import Final

from rich.console import Console

WIDTH: Final = 100
WIDEST: Final = 120


def console() -> Console:
    """Return a console that fills a terminal up to a readable width; 100 columns into a file or pipe."""
    if sys.stdout.isatty():
        return Console(width=min(Console().width, WIDEST), highlight=False)
    return Console(width=WIDTH, highlight=False)


def complain(*lines: str) -> None:
    """Write lines to standard error; brackets in them are text, not markup."""
    for line in lines:
        print(line, file=sys.stderr)
