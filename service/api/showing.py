"""Values of an answer in the reader's units and language.

Inside: quantities, messages, names, evidence and the list of what was cited. Outside: which values an
answer has (`present_*`), factors and decimals (`units`), sentences (`text`).
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal
from itertools import pairwise
from math import fsum
from typing import Any

from service.api.answers import Amount, Estimate, Evidence, Knowledge, Named, Note, Place, Reference, YieldAmount
from service.api.reader import Reader
from service.domain.types import Interval, Message, Quantity
from service.knowledge.schema import Citation, LocalText
from service.text import names, render
from service.units import bushels_per_acre, convert, served, shown_grain, shown_unit
from service.usecases.settings_types import Proof


@dataclass(slots=True)
class Showing:
    """Turns values for one reader, and remembers the sources that were cited on the way."""

    reader: Reader
    cited: set[str] = field(default_factory=set)

    def number(self, value: float, unit: str) -> float:
        """Return a value in the reader's unit, rounded to the decimals of that unit."""
        shown = shown_unit(unit, self.reader.units)
        return served(convert(value, unit, shown), shown)

    def parts(self, values: Sequence[float], unit: str) -> tuple[list[float], float]:
        """Return parts and their sum as printed: the parts add up exactly to the sum, which is itself rounded once.

        Each part is the step between two rounded running sums, so no part is further than one last digit from
        its own value, and none changes its sign.
        """
        sums = [Decimal(str(self.number(fsum(values[:count]), unit))) for count in range(len(values) + 1)]
        return [float(after - before) for before, after in pairwise(sums)], float(sums[-1])

    def unit(self, unit: str) -> str:
        """Return the reader's unit."""
        return shown_unit(unit, self.reader.units)

    def amount(self, value: float, unit: str) -> Amount:
        """Return a number with its unit."""
        return Amount(value=self.number(value, unit), unit=self.unit(unit))

    def estimate(self, value: float, low: float | None, high: float | None, unit: str) -> Estimate:
        """Return a number with its range."""
        ends = [None if end is None else self.number(end, unit) for end in (low, high)]
        return Estimate(value=self.number(value, unit), low=ends[0], high=ends[1], unit=self.unit(unit))

    def grain(self, value: float, unit: str, bushel_lb: float | None) -> Amount:
        """Return a mass of grain or per hour: bushels where the reader counts so and the crop has a legal bushel."""
        amount, shown = shown_grain(value, unit, self.reader.units, bushel_lb)
        return Amount(value=served(amount, shown), unit=shown)

    def grain_estimate(self, value: Interval, unit: str, bushel_lb: float | None) -> Estimate:
        """Return the same with its range."""
        middle, low, high = (self.grain(one, unit, bushel_lb) for one in (value.value, value.low, value.high))
        return Estimate(value=middle.value, low=low.value, high=high.value, unit=middle.unit)

    def crop_yield(self, yield_t_ha: float, bushel_lb: float | None) -> YieldAmount:
        """Return a yield: bushels per acre where the reader counts so and the crop has a legal bushel."""
        if self.reader.units == "us" and bushel_lb is not None:
            value = served(bushels_per_acre(yield_t_ha * 1000, bushel_lb), "[bu_us]/[acr_us]")
            bushel = Amount(value=bushel_lb, unit="[lb_av]")
            return YieldAmount(value=value, unit="[bu_us]/[acr_us]", bushel_mass=bushel)
        return YieldAmount(value=self.number(yield_t_ha, "t/har"), unit=self.unit("t/har"))

    def text(self, code: str) -> str:
        """Render a text without parameters."""
        return render(Message(code), self.reader.lang, self.reader.units)

    def note(self, message: Message) -> Note:
        """Render a message beside its code and parameters."""
        text = render(message, self.reader.lang, self.reader.units)
        params = {name: self._param(value) for name, value in message.params.items()}
        return Note(code=message.code, text=text, params=params or None)

    def notes(self, messages: Iterable[Message]) -> list[Note]:
        """Render messages in their order."""
        return [self.note(message) for message in messages]

    def _param(self, value: object) -> Any:
        match value:
            case Quantity():
                return self.grain(value.value, value.unit, value.bushel_lb).model_dump()
            case LocalText():
                return names(value, self.reader.lang)
            case Message():
                return self.note(value).model_dump(exclude_none=True)
            case datetime():
                return value.isoformat()
            case list() | tuple():
                return [self._param(one) for one in value]
            case _:
                return value

    def name(self, text: LocalText) -> str:
        """Return a name in the reader's language."""
        return names(text, self.reader.lang)

    def named(self, ident: str, text: LocalText) -> Named:
        """Return an id with its name."""
        return Named(id=ident, name=self.name(text))

    def places(self, citations: Sequence[Citation]) -> list[Place]:
        """Return citations, and remember their sources."""
        self.cited |= {citation.id for citation in citations}
        return [Place(id=citation.id, at=citation.at) for citation in citations]

    def evidence(self, proof: Proof) -> dict[str, Any]:
        """Return the fields of `Evidence` for a value."""
        return {"basis": proof.basis, "known": proof.known, "sources": self.places(proof.sources)}

    def evidence_part(self, proof: Proof) -> Evidence:
        """Return how a value is known, as a part of its own."""
        return Evidence(**self.evidence(proof))

    def references(self) -> list[Reference]:
        """Return every source cited so far, by id."""
        return [self.reference(ident) for ident in sorted(self.cited)]

    def reference(self, ident: str) -> Reference:
        """Return one source."""
        return Reference(**self.reader.table.sources[ident].model_dump())

    def knowledge(self) -> Knowledge:
        """Return the state of the table."""
        return Knowledge(revision=self.reader.table.revision, digest=self.reader.table.digest)
