"""From accepted rows of a draft to the rows of the next local table.

Inside: which numbers stand, rounding, bands. Outside: who accepted them (`refinement`), the document
(`local_documents`).
"""

from collections.abc import Mapping, Sequence
from typing import Any

from service.usecases.local_documents import DECIMALS, EFFECT_DECIMALS, contributors_band, round_count
from service.usecases.local_types import LocalEffect, LocalRow, LocalTable


def next_rows(local: LocalTable | None, accepted: Sequence[Mapping[str, Any]]) -> tuple[LocalRow, ...]:
    """Return the rows of the next table: the accepted ones, and the old ones of all other cells."""
    cells = {(row["crop"], row["machine_class"], row["moisture_band"]) for row in accepted}
    kept = [
        row
        for row in (() if local is None else local.rows)
        if (row.crop, row.machine_class, row.moisture_band) not in cells
    ]
    return (*kept, *(one for row in accepted for one in _cell(row)))


def _cell(row: Mapping[str, Any]) -> list[LocalRow]:
    """Numbers of a cell that differ from the base table."""
    band = contributors_band(row["evidence"]["contributors"])
    if band is None:  # the method proposes nothing of so few; should it ever, it is not told
        return []
    return [
        LocalRow(
            crop=row["crop"],
            machine_class=row["machine_class"],
            setting=one["setting"],
            moisture_band=row["moisture_band"],
            start=round(one["proposed"], DECIMALS),
            unit=one["unit"],
            base_start=one["base_start"],
            low=None if one["likely"] is None else round(one["likely"][0], DECIMALS),
            high=None if one["likely"] is None else round(one["likely"][1], DECIMALS),
            records=round_count(row["evidence"]["records"]),
            contributors_band=band,
            effects=tuple(
                LocalEffect(
                    effect["outcome"], *(round(effect[name], EFFECT_DECIMALS) for name in ("factor", "low", "high"))
                )
                for effect in one["effects"]
            ),
        )
        for one in row["settings"]
        if one["effects"]
    ]


def _effect(told: Mapping[str, Any]) -> LocalEffect:
    return LocalEffect(told["outcome"], *(round(told[name], EFFECT_DECIMALS) for name in ("factor", "low", "high")))
