"""The digest of the table and its revision: what changed is told by a number, not by a date.

Inside: the digest, the check of revision.toml and CHANGES.md, and the next revision. Outside: the
rules that the content must keep.
"""

import hashlib
import json
import re
from dataclasses import asdict
from datetime import date
from pathlib import Path
from typing import Final

from service.errors import KnowledgeFault
from service.knowledge.checks import tree_faults
from service.knowledge.schema import RevisionFile
from service.knowledge.tree import KnowledgeTree, fault, read_file, read_tree

REVISION: Final = "revision.toml"
CHANGES: Final = "CHANGES.md"


def digest(tree: KnowledgeTree) -> str:
    """Hash the validated content: values count, comments, order of keys and file names do not.

    Crops, sources, quantities, rows and responses are found by id, so their order does not count
    either; nor do levers, effects and second signs. First-try rules, outcomes and mistakes are read in
    order, so theirs does; so are machine states and the tasks that are done in them.
    """
    content: dict[str, object] = {
        "vocabulary": _by_id(tree.vocabulary.model_dump(mode="json", exclude_none=True)["quantity"]),
        "machines": tree.machines.model_dump(mode="json", exclude_none=True),
        "responses": _rows_by_id(tree.responses.model_dump(mode="json", exclude_none=True)),
        "economics": _rows_by_id(tree.economics.model_dump(mode="json", exclude_none=True)),
        "influence": _rows_by_id(tree.influence.model_dump(mode="json", exclude_none=True)),
        "sources": _by_id(
            [
                record.model_dump(mode="json", exclude_none=True)
                for file in tree.sources.values()
                for record in file.source
            ]
        ),
        "crops": _by_id([_rows_by_id(crop.model_dump(mode="json", exclude_none=True)) for crop in tree.crops.values()]),
    }
    sets = tree.equilibrium.sets
    if sets:
        content["equilibrium"] = [asdict(row) for row in sorted(sets, key=lambda row: (row.crop, row.form, row.source))]
    if tree.monitor is not None:
        content["monitor"] = tree.monitor.model_dump(mode="json", exclude_none=True)
    if tree.window is not None:
        content["window"] = _rows_by_id(tree.window.model_dump(mode="json", exclude_none=True))
    if tree.relearn is not None:
        content["relearn"] = _rows_by_id(tree.relearn.model_dump(mode="json", exclude_none=True))
    if tree.residue is not None:
        content["residue"] = _rows_by_id(tree.residue.model_dump(mode="json", exclude_none=True))
    content["hauling"] = _rows_by_id(tree.hauling.model_dump(mode="json", exclude_none=True))
    if tree.refinement is not None:
        content["refinement"] = tree.refinement.model_dump(mode="json", exclude_none=True)
    text = json.dumps(content, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)
    return "sha256:" + hashlib.sha256(text.encode()).hexdigest()


def revision_faults(folder: Path, revision: RevisionFile, found: str) -> list[str]:
    """Compare revision.toml with the digest `found`, and ask CHANGES.md for its entry."""
    faults = []
    if revision.digest != found:
        faults.append(
            fault(REVISION, ("digest",), f"the files changed since {revision.id}; run `threshbook knowledge bump`")
        )
    path = folder / CHANGES
    if not path.is_file():
        faults.append(fault(CHANGES, (), "the file is missing"))
    elif not _has_entry(path.read_text(encoding="utf-8"), revision.id):
        faults.append(fault(CHANGES, (), f"there is no entry with text under a heading {revision.id}"))
    return faults


def bump(folder: Path, released: str) -> str:
    """Write the next revision of the folder and return its id; the same id if nothing changed.

    The entry in CHANGES.md is for a person to write; until it stands there, loading complains.

    Raises
    ------
    KnowledgeFault
        If the files hold other faults, or `released` is no date or lies before the last revision.
    """
    reading = read_tree(folder)
    faults = [*reading.faults]
    last: RevisionFile | None = None
    if (folder / REVISION).exists():
        last = read_file(folder / REVISION, REVISION, RevisionFile, faults)
    if reading.tree is not None:
        faults += tree_faults(reading.tree, whole=not reading.faults)
    day = _day(released)
    if day is None:
        faults.append(fault(REVISION, ("released",), f"{released!r} is not a date as 2026-11-30"))
    elif last is not None and released < last.released:
        faults.append(fault(REVISION, ("released",), f"{released} lies before {last.id} of {last.released}"))
    if faults or reading.tree is None or day is None:
        raise KnowledgeFault(faults)
    found = digest(reading.tree)
    if last is not None and last.digest == found:
        return last.id
    ident = _next_id(last, day)
    lines = [f'id = "{ident}"', f'released = "{released}"', f'digest = "{found}"']
    if last is not None:
        lines.insert(1, f'parent = "{last.id}"')
    (folder / REVISION).write_text("\n".join(lines) + "\n", encoding="utf-8")
    return ident


def _by_id(entries: list[dict[str, object]]) -> dict[str, dict[str, object]]:
    return {str(entry["id"]): entry for entry in entries}


def _rows_by_id(content: dict[str, object]) -> dict[str, object]:
    for key in (
        "row",
        "response",
        "timeliness",
        "lever",
        "effect",
        "tell_tale",
        "pace",
        "rule",
        "yield_line",
        "cover",
        "bulk_density",
    ):
        entries = content.get(key)
        if isinstance(entries, list):
            content[key] = _by_id(entries)
    return content


def _has_entry(changes: str, ident: str) -> bool:
    heading = re.compile(rf"#+ .*(?<![\d.]){re.escape(ident)}(?!\.?\d)")
    lines = iter(changes.splitlines())
    if not any(heading.match(line) for line in lines):
        return False
    following = next((line for line in lines if line.strip()), "#")
    return not following.startswith("#")


def _day(released: str) -> date | None:
    try:
        return date.fromisoformat(released) if re.fullmatch(r"\d{4}-\d{2}-\d{2}", released) else None
    except ValueError:
        return None


def _next_id(last: RevisionFile | None, day: date) -> str:
    number = 1
    if last is not None:
        year, month, count = (int(part) for part in last.id.split("."))
        if (year, month) == (day.year, day.month):
            number = count + 1
    return f"{day.year}.{day.month:02}.{number}"
