"""The knowledge folder to a checked table; the one way in.

Inside: the order of reading and checking, and one refusal that lists every fault. Outside: the
reading itself (`tree.py`), the rules (`checks.py` and its siblings), look-ups (`table.py`).
"""

from pathlib import Path

from service.errors import KnowledgeFault
from service.knowledge.checks import tree_faults
from service.knowledge.digest import REVISION, digest, revision_faults
from service.knowledge.influence import InfluenceTable
from service.knowledge.schema import RevisionFile
from service.knowledge.table import KnowledgeTable
from service.knowledge.tree import PACKAGE_FOLDER, read_file, read_tree


def load_table(folder: Path | None = None, extra_crops: Path | None = None) -> KnowledgeTable:
    """Read, check and index the knowledge table.

    Parameters
    ----------
    folder : Path, optional
        The knowledge folder; without it, the one in the package.
    extra_crops : Path, optional
        A folder of further crop files, laid over the table. They may cite its sources only, and
        may not reuse its ids, names or aliases. The revision then ends in `+local` and the digest
        covers both; the digest in revision.toml is still compared with the base alone.

    Raises
    ------
    KnowledgeFault
        If anything is wrong; lists every fault with file, row and key. Rules across files are
        applied to the files that could be read, and only if the shared ones could.
    """
    folder = folder or PACKAGE_FOLDER
    reading = read_tree(folder, extra_crops)
    faults = [*reading.faults]
    revision = read_file(folder / REVISION, REVISION, RevisionFile, faults)
    tree = reading.tree
    if tree is not None:
        faults += tree_faults(tree, whole=not reading.faults)
        if revision is not None and not reading.faults:
            faults += revision_faults(folder, revision, digest(tree.base))
    if faults or tree is None or revision is None:
        raise KnowledgeFault(faults)
    return KnowledgeTable(
        revision=f"{revision.id}+local" if tree.local else revision.id,
        digest=digest(tree) if tree.local else revision.digest,
        released=revision.released,
        crops={crop.id: crop for crop in sorted(tree.crops.values(), key=lambda crop: crop.id)},
        sources={record.id: record for file in tree.sources.values() for record in file.source},
        vocabulary={entry.id: entry for entry in tree.vocabulary.quantity},
        machines=tree.machines,
        responses=tree.responses,
        economics=tree.economics,
        influence=InfluenceTable(tree.influence),
        hauling=tree.hauling,
        equilibrium=tree.equilibrium,
        monitor=tree.monitor,
        window=tree.window,
        relearn=tree.relearn,
        residue=tree.residue,
        refinement=tree.refinement,
    )
