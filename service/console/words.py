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

    def place(self, crop: str, machine_class: str) -> str:
        """Return the name of a crop on a machine class."""
        return f"{self.crop(crop)} \N{EN DASH} {self.machine_class(machine_class)}"

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
        return self.say(f"console.decision.{choice}", by=self.actor(by))

    def actor(self, by: str) -> str:
        """Return who did something, as the audit log names him: by his key, or as what ran."""
        kind, _, prefix = by.partition(" ")
        return self.say("console.by_key", key=prefix) if kind == "key" and prefix else by

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
        """Write two values of a quantity with as many decimals, one more where they would look the same."""
        first, second = self._alike((before, after), unit)
        return self._with_unit(first, unit), self._with_unit(second, unit)

    def span(self, low: float, high: float, unit: str) -> str:
        """Write from where to where a quantity goes."""
        first, second = self._alike((low, high), unit)
        return self.say("console.from_to", low=first, high=self._with_unit(second, unit))

    def _alike(self, values: tuple[float, float], unit: str) -> tuple[str, str]:
        most = DECIMALS[shown_unit(unit, self.units)]
        shown = [round(self.shown(value, unit), most) for value in values]
        if shown[0] == shown[1] and values[0] != values[1]:
            most += 1
            shown = [round(self.shown(value, unit), most) for value in values]
        places = next(n for n in range(most + 1) if n == most or all(round(one, n) == one for one in shown))
        return self.number(shown[0], places), self.number(shown[1], places)

    def _with_unit(self, number: str, unit: str) -> str:
        label = self.unit(unit)
        return number + label if label in ("", "°") else f"{number}\N{NO-BREAK SPACE}{label}"

    def shown(self, value: float, unit: str) -> float:
        """Return a value in the reader's unit, as charts need it."""
        return convert(value, unit, shown_unit(unit, self.units))

    def unit(self, unit: str) -> str:
        """Return the label of the reader's unit."""
        return unit_label(shown_unit(unit, self.units), self.lang)

    def percent(self, share: float, places: int = 0) -> str:
        """Write a share as percent."""
        return self.amount_text(self.number(100 * share, places))

    def chance(self, probability: float) -> str:
        """Write a probability as percent; none is told as certain."""
        ends = {0: ("<", 1), 100: (">", 99)}
        sign, percent = ends.get(round(100 * probability), ("", round(100 * probability)))
        return (f"{sign}\N{NO-BREAK SPACE}" if sign else "") + self.amount_text(self.number(percent))

    def change(self, factor: float) -> str:
        """Write a factor as a change in percent, with its sign."""
        return self.amount_text(self._signed(factor))

    def changes(self, low: float, high: float) -> str:
        """Write from which change to which."""
        return self.say("console.from_to", low=self._signed(low), high=self.change(high))

    def _signed(self, factor: float) -> str:
        percent = round(100 * (factor - 1), 1)
        sign = "+" if percent > 0 else MINUS if percent < 0 else "±"
        return sign + self.number(abs(percent), 0 if abs(percent) >= 10 else 1)

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
