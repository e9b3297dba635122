"""Rules on how figures are known: citations, basis, mark, and figures as printed.

Inside: everything that keeps a recalled or own figure from passing for a published one, and the
conversion of printed figures done again. Outside: what the figures say.
"""

import math
from collections import Counter
from collections.abc import Iterator
from decimal import Decimal

from service.errors import ServiceError
from service.knowledge.schema import (
    Basis,
    Citation,
    Entry,
    Evidence,
    Figure,
    Known,
    Printed,
    SettingRow,
    SourceRecord,
)
from service.knowledge.tree import KnowledgeTree, Place, Problem, fault, walk
from service.units import convert

PRACTICE = "common-practice"
OUR_RULE = "threshbook-start-rule"

_SEEN: frozenset[Known] = frozenset({"read", "read_secondhand", "memory"})
KNOWN_OF_BASIS: dict[Basis, frozenset[Known]] = {
    "published": _SEEN,
    "converted": _SEEN,
    "computed": frozenset({"computed", "derived", "memory"}),
    "expert": frozenset({"practice", "memory", "derived"}),
}


def evidence_faults(tree: KnowledgeTree, *, whole: bool) -> Iterator[str]:
    """Yield every fault of this module; unused sources only when the `whole` folder was read."""
    sources = {record.id: record for file in tree.sources.values() for record in file.source}
    yield from duplicate_sources(tree)
    yield from unknown_sources(tree, sources)
    if whole:
        yield from unused_sources(tree)
    for file, content in tree.files():
        for place, entry in walk(content):
            for key, problem in (*basis_problems(entry), *citation_problems(entry, sources), *printed_problems(entry)):
                yield fault(file, (*place, key), problem)


def duplicate_sources(tree: KnowledgeTree) -> Iterator[str]:
    """Yield a fault for each source id that stands twice, in one file or in two."""
    seen: dict[str, str] = {}
    for file, content in tree.sources.items():
        for record in content.source:
            if record.id in seen:
                yield fault(file, (f"source {record.id}", "id"), f"the source stands in {seen[record.id]} already")
            seen.setdefault(record.id, file)


def unknown_sources(tree: KnowledgeTree, sources: dict[str, SourceRecord]) -> Iterator[str]:
    """Yield a fault for each citation of a source that is in no file."""
    for file, place, citation in _citations(tree):
        if citation.id not in sources:
            yield fault(file, (*place, "id"), f"there is no source {citation.id!r}")


def unused_sources(tree: KnowledgeTree) -> Iterator[str]:
    """Yield a fault for each source that nothing cites."""
    used = {citation.id for _, _, citation in _citations(tree)}
    for file, content in tree.sources.items():
        for record in content.source:
            if record.id not in used:
                yield fault(file, (f"source {record.id}", "id"), "nothing cites this source")


def basis_problems(entry: Entry) -> Iterator[Problem]:
    """Yield a problem where the mark `known` cannot go with the basis."""
    basis: Basis | None = getattr(entry, "basis", None)
    known: Known | None = getattr(entry, "known", None)
    if basis is not None and known is not None and known not in KNOWN_OF_BASIS[basis]:
        allowed = ", ".join(sorted(KNOWN_OF_BASIS[basis]))
        yield "known", f"basis {basis} goes with {allowed}, not with {known}"


def citation_problems(entry: Entry, sources: dict[str, SourceRecord]) -> Iterator[Problem]:
    """Yield a problem where the cited sources cannot carry what the entry claims."""
    cited: list[Citation] | None = getattr(entry, "source", None)
    known: Known | None = getattr(entry, "known", None)
    if not cited or known is None:
        return
    ids = [citation.id for citation in cited]
    if set(ids) == {PRACTICE}:
        if getattr(entry, "basis", "expert") != "expert":
            yield "basis", f"a figure on {PRACTICE} alone is expert"
        if known != "practice":
            yield "known", f"a figure on {PRACTICE} alone is practice, not {known}"
    basis: Basis = getattr(entry, "basis", "expert")
    if OUR_RULE in ids and basis in ("published", "converted"):
        yield "basis", f"a figure made by {OUR_RULE} is computed or expert, not {basis}"
    # an unknown source is a fault of its own
    if known == "read" and all(i in sources and not sources[i].opened for i in ids):
        yield "known", f"read, but none of {', '.join(ids)} was opened"
    for at, count in Counter((citation.id, citation.at) for citation in cited).items():
        if count > 1:
            yield "source", f"cites {at[0]} at {at[1]!r} {count} times"


def printed_problems(entry: Entry) -> Iterator[Problem]:
    """Yield a problem for each printed figure that does not convert to the stored one."""
    if not isinstance(entry, Evidence):
        return
    for index, printed in enumerate(entry.printed):
        key = f"printed[{index}]"
        stored = getattr(entry, printed.of, None) if isinstance(entry, Figure | SettingRow) else None
        if stored is None or not isinstance(entry, Figure | SettingRow):
            yield f"{key}.of", f"the entry has no {printed.of}"
            continue
        try:
            found = _as_stored(printed, entry.unit)
        except ServiceError:
            yield f"{key}.unit", f"{printed.unit} does not convert to {entry.unit}"
            continue
        if abs(found - stored) > half_last_digit(stored) * (1 + 1e-9):
            text = f"{printed.value:g} {printed.unit} is {found:.6g} {entry.unit}, but {printed.of} is {stored:g}"
            yield f"{key}.value", text


def half_last_digit(value: float) -> float:
    """Half a unit of the last digit of the shortest decimal form, at least three figures counted."""
    shortest = Decimal(repr(value)).normalize()
    exponent = int(shortest.as_tuple().exponent)
    if value != 0:
        exponent = min(exponent, shortest.adjusted() - 2)
    # a whole number is exact to the unit: its closing zeros are digits, not padding
    return 0.5 * 10.0 ** min(exponent, 0)


def _as_stored(printed: Printed, unit: str) -> float:
    if printed.unit == "{rev}/min" and printed.diameter_mm is not None:
        # peripheral speed v = pi D n, n in revolutions per second
        speed_m_s = math.pi * convert(printed.diameter_mm, "mm", "m") * printed.value / 60
        return convert(speed_m_s, "m/s", unit)
    return convert(printed.value, printed.unit, unit)


def _citations(tree: KnowledgeTree) -> Iterator[tuple[str, Place, Citation]]:
    for file, content in tree.files():
        for place, entry in walk(content):
            if isinstance(entry, Citation):
                yield file, place, entry
