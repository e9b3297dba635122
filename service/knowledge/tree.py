"""The folder read into validated models, before any rule that concerns several entries.

Inside: which files there are, TOML, the schema, and how a fault names its place. Outside: rules
across entries (`checks.py`, `evidence.py`, `curves.py`), the digest, look-ups.

A fault reads `file: table.key: problem`, or `file: row <id>: key: problem` for an entry with an id.
"""

import re
import tomllib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TypeVar

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from service.errors import KnowledgeFault
from service.knowledge.coefficients import FILE as EQUILIBRIUM
from service.knowledge.coefficients import EquilibriumTable, read_equilibrium
from service.knowledge.influence_schema import InfluenceFile
from service.knowledge.machine_schema import MachinesFile
from service.knowledge.schema import CropFile, Entry, ResponsesFile, SourcesFile, VocabularyFile
from service.knowledge.schema_economics import EconomicsFile
from service.knowledge.schema_hauling import HaulingFile
from service.knowledge.schema_monitor import MonitorFile
from service.knowledge.schema_refinement import RefinementFile
from service.knowledge.schema_relearn import RelearnFile
from service.knowledge.schema_residue import ResidueFile
from service.knowledge.schema_window import HarvestWindowFile

PACKAGE_FOLDER = Path(__file__).parent
VOCABULARY, MACHINES, RESPONSES = "vocabulary.toml", "machines.toml", "responses.toml"
ECONOMICS, INFLUENCE, MONITOR = "economics.toml", "influence.toml", "loss_monitor.toml"
WINDOW, RELEARN = "harvest_window.toml", "relearn.toml"
RESIDUE, HAULING = "residue.toml", "hauling.toml"
REFINEMENT = "refinement.toml"

Place = tuple[str, ...]
Problem = tuple[str, str]  # the key inside an entry, what is wrong with it
Model = TypeVar("Model", bound=BaseModel)


@dataclass(frozen=True)
class KnowledgeTree:
    """Every validated file except the revision; the keys of `crops` and `sources` are file names."""

    vocabulary: VocabularyFile
    machines: MachinesFile
    responses: ResponsesFile
    economics: EconomicsFile
    influence: InfluenceFile
    hauling: HaulingFile
    sources: dict[str, SourcesFile]
    crops: dict[str, CropFile]
    equilibrium: EquilibriumTable
    local: frozenset[str] = frozenset()  # the keys of `crops` that come from an overlay
    monitor: MonitorFile | None = None  # a folder may do without, as without the next
    window: HarvestWindowFile | None = None
    relearn: RelearnFile | None = None
    residue: ResidueFile | None = None
    refinement: RefinementFile | None = None

    @property
    def base(self) -> "KnowledgeTree":
        """The same tree without the overlay."""
        crops = {name: crop for name, crop in self.crops.items() if name not in self.local}
        return replace(self, crops=crops, local=frozenset())

    def files(self) -> Iterator[tuple[str, Entry]]:
        """Yield each file's name and content; sources last."""
        yield VOCABULARY, self.vocabulary
        yield MACHINES, self.machines
        yield RESPONSES, self.responses
        yield ECONOMICS, self.economics
        yield INFLUENCE, self.influence
        if self.monitor is not None:
            yield MONITOR, self.monitor
        if self.window is not None:
            yield WINDOW, self.window
        if self.relearn is not None:
            yield RELEARN, self.relearn
        if self.residue is not None:
            yield RESIDUE, self.residue
        yield HAULING, self.hauling
        if self.refinement is not None:
            yield REFINEMENT, self.refinement
        yield from self.crops.items()
        yield from self.sources.items()


@dataclass(frozen=True)
class Reading:
    """What could be read: no tree when a shared file is faulty, crops left out when theirs is."""

    tree: KnowledgeTree | None
    faults: tuple[str, ...]


def fault(file: str, place: Sequence[str], problem: str) -> str:
    """Write a fault the one way that all of them are written."""
    text = ""
    for part in place:
        # an entry named by its id holds a blank, and ids hold dots, so a colon ends it
        text += (": " if " " in text.rsplit(": ", 1)[-1] else "." if text else "") + part
    return ": ".join(part for part in (file, text, problem) if part)


def element(key: str, index: int, ident: object) -> str:
    """Name an element of an array: by its id, else by its place from 0."""
    return f"{key} {ident}" if isinstance(ident, str) else f"{key}[{index}]"


def walk(entry: Entry, place: Place = ()) -> Iterator[tuple[Place, Entry]]:
    """Yield an entry and all entries inside it, each with its place in the file."""
    yield place, entry
    for key, value in entry:
        if isinstance(value, Entry):
            yield from walk(value, (*place, key))
        elif isinstance(value, list):
            for index, item in enumerate(value):
                if isinstance(item, Entry):
                    yield from walk(item, (*place, element(key, index, getattr(item, "id", None))))
        elif isinstance(value, dict):
            for name, item in value.items():
                if isinstance(item, Entry):
                    yield from walk(item, (*place, key, str(name)))


def read_file(path: Path, file: str, model: type[Model], faults: list[str]) -> Model | None:
    """Read one TOML file into its model; append every fault and return None if there is one."""
    try:
        text = path.read_bytes().decode("utf-8")
        data = tomllib.loads(text)
    except FileNotFoundError:
        faults.append(fault(file, (), "the file is missing"))
        return None
    except OSError as error:
        faults.append(fault(file, (), f"the file cannot be read: {error.strerror}"))
        return None
    except UnicodeDecodeError as error:
        faults.append(fault(file, (), f"not UTF-8 at byte {error.start}"))
        return None
    except tomllib.TOMLDecodeError as error:
        faults.append(fault(file, (), _toml_problem(str(error), text)))
        return None
    try:
        return model.model_validate(data)
    except ValidationError as error:
        faults.extend(fault(file, _place(data, e["loc"]), _problem(e)) for e in error.errors(include_url=False))
        return None


def read_tree(folder: Path, extra_crops: Path | None = None) -> Reading:
    """Read the knowledge folder, and a folder of further crops if one is given."""
    faults: list[str] = []
    vocabulary = read_file(folder / VOCABULARY, VOCABULARY, VocabularyFile, faults)
    machines = read_file(folder / MACHINES, MACHINES, MachinesFile, faults)
    responses = read_file(folder / RESPONSES, RESPONSES, ResponsesFile, faults)
    economics = read_file(folder / ECONOMICS, ECONOMICS, EconomicsFile, faults)
    influence = read_file(folder / INFLUENCE, INFLUENCE, InfluenceFile, faults)
    sources = _read_folder(folder / "sources", "sources", SourcesFile, faults)
    equilibrium = _read_equilibrium(folder / EQUILIBRIUM, faults)
    monitor = _read_if_there(folder, MONITOR, MonitorFile, faults)
    window = _read_if_there(folder, WINDOW, HarvestWindowFile, faults)
    refinement = _read_if_there(folder, REFINEMENT, RefinementFile, faults)
    relearn = _read_if_there(folder, RELEARN, RelearnFile, faults)
    residue = _read_if_there(folder, RESIDUE, ResidueFile, faults)
    hauling = read_file(folder / HAULING, HAULING, HaulingFile, faults)
    shared_are_sound = not faults
    crops = _read_folder(folder / "crops", "crops", CropFile, faults)
    local = {} if extra_crops is None else _read_folder(extra_crops, "extra crops", CropFile, faults, may_be_empty=True)
    if vocabulary is None or machines is None or responses is None or economics is None:
        return Reading(None, tuple(faults))
    if influence is None or hauling is None or not shared_are_sound:
        return Reading(None, tuple(faults))
    tree = KnowledgeTree(
        vocabulary=vocabulary,
        machines=machines,
        responses=responses,
        economics=economics,
        influence=influence,
        hauling=hauling,
        sources=sources,
        crops=crops | local,
        equilibrium=equilibrium,
        local=frozenset(local),
        monitor=monitor,
        window=window,
        relearn=relearn,
        residue=residue,
        refinement=refinement,
    )
    return Reading(tree, tuple(faults))


def _read_if_there(folder: Path, file: str, model: type[Model], faults: list[str]) -> Model | None:
    return read_file(folder / file, file, model, faults) if (folder / file).exists() else None


def _read_equilibrium(path: Path, faults: list[str]) -> EquilibriumTable:
    """Read the coefficient sets; a folder without the file has none."""
    if not path.exists():
        return EquilibriumTable((), {})
    try:
        return read_equilibrium(path.read_text(encoding="utf-8").splitlines())
    except KnowledgeFault as refused:
        faults.extend(refused.faults)
        return EquilibriumTable((), {})


def _read_folder(
    folder: Path, name: str, model: type[Model], faults: list[str], *, may_be_empty: bool = False
) -> dict[str, Model]:
    if not folder.is_dir():
        faults.append(fault(f"{name}/", (), "the folder is missing"))
        return {}
    paths = sorted(folder.glob("*.toml"))
    if not paths and not may_be_empty:
        faults.append(fault(f"{name}/", (), "the folder holds no TOML file"))
    read = {f"{name}/{path.name}": read_file(path, f"{name}/{path.name}", model, faults) for path in paths}
    return {file: content for file, content in read.items() if content is not None}


def _toml_problem(message: str, text: str) -> str:
    """Put the text of the line behind a TOML error, which names only its number."""
    found = re.search(r"at line (\d+)", message)
    lines = text.splitlines()
    if found is None or int(found[1]) > len(lines):
        return message
    return f"{message}: {lines[int(found[1]) - 1].strip()}"


def _place(data: object, loc: tuple[int | str, ...]) -> Place:
    parts: list[str] = []
    node = data
    for step in loc:
        if isinstance(step, int) and parts:
            if isinstance(node, list) and step < len(node):
                node = node[step]  # a single citation stands as a table where the model has a list
            ident = node.get("id") if isinstance(node, dict) else None
            parts[-1] = element(parts[-1], step, ident)
        elif step == "[key]":
            continue
        else:
            parts.append(str(step))
            node = node.get(step) if isinstance(node, dict) else None
    return tuple(parts)


def _problem(error: ErrorDetails) -> str:
    match error["type"]:
        case "extra_forbidden":
            return "unknown key"
        case "missing":
            return "the key is missing"
        case "value_error":
            return error["msg"].removeprefix("Value error, ")
    given = error["input"]
    return f"{error['msg']}, not {given!r}" if isinstance(given, str | int | float) else error["msg"]
