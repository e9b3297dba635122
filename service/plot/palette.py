"""Colours, line patterns and dot shapes.

Inside: six colours for each of a light and a dark page, the pattern and shape that go with each so that no
reader needs the colour, and the style sheet. Outside: geometry.

The colours are our own. A test measures them: contrast of at least 3:1 with the page (WCAG 2.2, 1.4.11), and
a difference that remains under simulated protanopia, deuteranopia and tritanopia.
"""

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True)
class Theme:
    """Colours of one kind of page."""

    page: str
    ink: str
    faint: str
    grid: str
    shade: str
    colours: tuple[str, ...]


LIGHT: Final = Theme(
    page="#fdfdfb",
    ink="#20262b",
    faint="#59636b",
    grid="#e1e4e4",
    shade="#e9e6d6",
    colours=("#072597", "#cf4603", "#2f82b2", "#6a004b", "#563f23", "#7f8280"),
)
DARK: Final = Theme(
    page="#171b1e",
    ink="#eceff0",
    faint="#aeb7bc",
    grid="#333b40",
    shade="#34352a",
    colours=("#8490ff", "#bf7426", "#17c6e6", "#f352ab", "#fbc142", "#b1e0a2"),
)

# colour 0 is drawn solid, each other in a pattern of its own
LINE_DASHES: Final = ("", "14 4", "12 3 2 3", "7 3", "12 3 2 3 2 3", "20 3 4 3")
SHORT_DASHES: Final = ("5 4", "2 3", "5 3 1 3", "3 5", "1 4", "5 2 1 2 1 2")

_FONT: Final = "font-family:system-ui,'Segoe UI',Roboto,'Noto Sans',sans-serif"


def style_sheet() -> str:
    """Return the rules of a chart; the dark page follows the reader's setting."""
    common = (
        f".chart text{{{_FONT};font-size:12px}}",
        ".chart .title{font-size:16px;font-weight:600}",
        ".chart .name{font-weight:600}",
        ".chart .line{fill:none;stroke-width:2.2;stroke-linejoin:round}",
        ".chart .thin{stroke-width:1.6}",
        ".chart .dot{stroke-width:1.4}",
        ".chart .band{stroke:none;fill-opacity:.2}",
        ".chart .grid,.chart .frame{fill:none;stroke-width:1}",
        ".chart .mark{fill:none;stroke-width:1.4;stroke-dasharray:6 3}",
        ".chart .level{fill:none;stroke-width:1.2;stroke-dasharray:3 3}",
    )
    return "\n".join((*common, *_rules(LIGHT), "@media (prefers-color-scheme:dark){", *_rules(DARK), "}"))


def _rules(theme: Theme) -> list[str]:
    rules = [
        f".chart .page{{fill:{theme.page}}}",
        f".chart text{{fill:{theme.ink}}}",
        f".chart .faint{{fill:{theme.faint}}}",
        f".chart .grid{{stroke:{theme.grid}}}",
        f".chart .frame{{stroke:{theme.faint}}}",
        f".chart .mark,.chart .level{{stroke:{theme.ink}}}",
        f".chart .shade{{fill:{theme.shade}}}",
        f".chart .dot{{stroke:{theme.page}}}",
    ]
    for number, colour in enumerate(theme.colours):
        rules.append(f".chart .stroke{number}{{stroke:{colour}}}")
        rules.append(f".chart .fill{number}{{fill:{colour}}}")
    return rules
