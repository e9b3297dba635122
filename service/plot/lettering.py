"""Where words go.

Inside: estimated widths, breaking a text into lines, flowing items into rows, keeping labels apart.
Outside: drawing them. Widths are estimates on the wide side, since the reader's font is not known.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

LINE_PX: Final = 16.0
_EM_SHARE: Final = 0.56


@dataclass(frozen=True)
class Placed:
    """A word at a place: its left edge, and its row counted from zero."""

    left_px: float
    row: int


def width_px(text: str, size_px: float = 12.0) -> float:
    """Return the estimated width of a text.

    >>> round(width_px("speed"), 1)
    33.6
    """
    return len(text) * size_px * _EM_SHARE


def wrapped(text: str, room_px: float, size_px: float = 12.0) -> list[str]:
    """Break a text at spaces into lines that fit.

    >>> wrapped("one two three", 50.0)
    ['one two', 'three']
    """
    lines: list[str] = []
    for word in text.split():
        if lines and width_px(f"{lines[-1]} {word}", size_px) <= room_px:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return lines


def flowed(widths_px: Sequence[float], room_px: float, gap_px: float) -> list[Placed]:
    """Set items one after another, starting a new row where the next does not fit.

    >>> flowed([40.0, 40.0, 40.0], 100.0, 10.0)
    [Placed(left_px=0.0, row=0), Placed(left_px=50.0, row=0), Placed(left_px=0.0, row=1)]
    """
    placed: list[Placed] = []
    left, row = 0.0, 0
    for width in widths_px:
        if left > 0 and left + width > room_px:
            left, row = 0.0, row + 1
        placed.append(Placed(left, row))
        left += width + gap_px
    return placed


def apart(labels: Sequence[tuple[float, float]], room_px: float, gap_px: float) -> list[Placed]:
    """Centre labels on their places, pushed inside the room, each in the first row where it touches no other.

    Parameters
    ----------
    labels : sequence of (centre, width)
    room_px, gap_px : float
        Width of the room; least distance between two labels of a row.

    >>> apart([(50.0, 40.0), (60.0, 40.0), (5.0, 40.0)], 200.0, 4.0)
    [Placed(left_px=30.0, row=0), Placed(left_px=40.0, row=1), Placed(left_px=0.0, row=2)]
    """
    placed: list[Placed] = []
    taken: list[list[tuple[float, float]]] = []
    for centre, width in labels:
        left = round(max(0.0, min(centre - width / 2, room_px - width)), 2)
        row = 0
        while row < len(taken) and any(
            left < right + gap_px and start < left + width + gap_px for start, right in taken[row]
        ):
            row += 1
        if row == len(taken):
            taken.append([])
        taken[row].append((left, left + width))
        placed.append(Placed(left, row))
    return placed
