"""Charts as SVG: what is drawn is given as plain numbers and words, the look is decided here.

Inside: the parts of a chart (`chart`), scales and ticks (`scale`), colours and line patterns (`palette`),
placing words (`lettering`), drawing (`draw`). Outside: which numbers are worth drawing (`api` presenters),
the words themselves (`text`).
"""

from service.plot.chart import Axis, Band, Chart, Level, Mark, Panel, Points, Series, Span, Style
from service.plot.draw import svg

__all__ = ["Axis", "Band", "Chart", "Level", "Mark", "Panel", "Points", "Series", "Span", "Style", "svg"]
