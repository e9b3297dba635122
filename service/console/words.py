"""What a page says, in the language and units of who reads it.

Inside: texts, names, numbers, days as a page writes them. Outside: catalogues and units (`text`), what is said
(templates and views).
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Final

from babel.dates import format_date, format_datetime

from service.domain.types import Message, Quantity
from service.knowledge.schema import LocalText
from service.knowledge.table import KnowledgeTable
from service.text import Language, decimal, names, quantity, render, unit_label
from service.units import DECIMALS, UnitSystem, convert, shown_unit

MINUS: Final = "\N{MINUS SIGN}"
_DAY: Final[dict[Language, str]] = {"en": "d MMM yyyy", "de": "d. MMM yyyy"}
_SHORT: Final[dict[Language, str]] = {"en": "d MMM", "de": "d. MMM"}


@dataclass(frozen=True, slots=True)
class Words:
    """A reader."""

    table: KnowledgeTable
    lang: Language
    units: UnitSystem

    def say(self, code: str, **params: object) -> str:
        """Return a text of the catalogue."""
        return render(Message(code, params), self.lang, self.units)

    def told(self, message: Message) -> str:
        """Return the text of a message."""
        return render(message, self.lang, self.units)

    def name(self, text: LocalText | None, ident: str) -> str:
        """Return a name, or the id of what has lost its name."""
        return ident if text is None else names(text, self.lang)

    def crop(self, ident: str) -> str:
        """Return the name of a crop."""
        found = self.table.crops.get(ident)
        return self.name(None if found is None else found.names, ident)

    def machine_class(self, ident: str) -> str:
        """Return the name of a machine class."""
        found = next((one.names for one in self.table.machines.machine_class if one.id == ident), None)
        return self.name(found, ident)

    def setting(self, ident: str) -> str:
        """Return the name of a setting."""
        found = self.table.vocabulary.get(ident)
        return self.name(None if found is None else found.names, ident)

    def band(self, ident: str | None) -> str:
        """Return the name of a moisture band; None is all of them."""
        return self.say(f"console.moisture.{ident or 'all'}")

    def outcome(self, ident: str) -> str:
        """Return the name of an outcome."""
        return self.say(f"console.outcome.{ident}")

    def prices(self, prices: Mapping[str, float]) -> list[str]:
        """Write what one percent of each outcome is taken to cost."""
        return [f"{self.say(f'outcome.{name}')} {decimal(price, self.lang)}" for name, price in prices.items()]

    def say_row(self, why: str) -> str:
        """Say why a row is left alone."""
        return self.say(f"draft.row.{why}")

    def say_move(self, why: str) -> str:
        """Say why a number would go where it would go."""
        return self.say(f"draft.setting.{why}")

    def say_doubt(self, outcome: str) -> str:
        """Say that a move rests on an outcome that growers who were left out do not bear out."""
        return self.say("draft.no_skill", outcome=Message(f"outcome.{outcome}"))

    def say_choice(self, effect: float) -> str:
        """Say what operators' own choices seem to add between days; the sign is that of a higher setting."""
        return self.say("console.group.choice_up" if effect > 0 else "console.group.choice_down")

    def say_decision(self, choice: str, by: str) -> str:
        """Say what was decided, and by whom."""
        return self.say(f"console.decision.{choice}", by=by)

    def people(self, band: str) -> str:
        """Return a number of contributors as it is told."""
        # bands from five on are numbers: 5-9, 50+
        return self.say(f"console.band.{band}") if band in ("none", "under_5") else band.replace("-", "–")

    def number(self, value: float, places: int = 0) -> str:
        """Write a number with fixed decimals."""
        return decimal(value, self.lang, places).replace("-", MINUS)

    def count(self, count: float | None) -> str:
        """Write a count, or that it is not told."""
        return self.say("console.not_told") if count is None else self.number(count)

    def amount(self, value: float, unit: str) -> str:
        """Write a quantity with its unit."""
        return quantity(Quantity(value, unit), self.lang, self.units)

    def pair(self, before: float, after: float, unit: str) -> tuple[str, str]:
        """Write two values of a quantity, with a decimal more where they would look the same."""
        both = self.amount(before, unit), self.amount(after, unit)
        if both[0] != both[1] or before == after:
            return both
        shown, label = shown_unit(unit, self.units), self.unit(unit)
        finer = (decimal(self.shown(value, unit), self.lang, DECIMALS[shown] + 1) for value in (before, after))
        first, second = (f"{one} {label}".rstrip() for one in finer)
        return first, second

    def shown(self, value: float, unit: str) -> float:
        """Return a value in the reader's unit, as charts need it."""
        return convert(value, unit, shown_unit(unit, self.units))

    def unit(self, unit: str) -> str:
        """Return the label of the reader's unit."""
        return unit_label(shown_unit(unit, self.units), self.lang)

    def percent(self, share: float, places: int = 0) -> str:
        """Write a share as percent."""
        return self.amount_text(self.number(100 * share, places))

    def change(self, factor: float) -> str:
        """Write a factor as a change in percent, with its sign."""
        percent = round(100 * (factor - 1), 1)
        sign = "+" if percent > 0 else MINUS if percent < 0 else "±"
        return sign + self.amount_text(self.number(abs(percent), 0 if abs(percent) >= 10 else 1))

    def amount_text(self, number: str) -> str:
        """Put the sign of percent behind a number that is written."""
        return f"{number}\N{NO-BREAK SPACE}%"

    def day(self, day: date) -> str:
        """Write a day."""
        return str(format_date(day, _DAY[self.lang], locale=self.lang))

    def short_day(self, day: date) -> str:
        """Write a day without its year."""
        return str(format_date(day, _SHORT[self.lang], locale=self.lang))

    def moment(self, moment: datetime) -> str:
        """Write a moment, in UTC as it is kept."""
        return f"{format_datetime(moment, f'{_DAY[self.lang]}, HH:mm', locale=self.lang)} UTC"
