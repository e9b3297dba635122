"""Rows of an export as JSON Lines, CSV or Parquet.

Inside: the media types, which of them a reader gets, and writing rows part by part, so that millions of them
pass through little memory. Outside: which rows and columns there are (`usecases.feedback_listing`).
"""

import csv
import io
import json
import tempfile
from collections.abc import Callable, Iterable, Iterator, Mapping
from datetime import date
from importlib.util import find_spec
from itertools import islice
from typing import Any, ClassVar, Final

from service.api.refusal import RefusalError
from service.api.strict_route import StrictRoute, weight_of
from service.usecases.feedback_listing import Kind, Row

JSON_LINES: Final = "application/x-ndjson"
CSV: Final = "text/csv"
PARQUET: Final = "application/vnd.apache.parquet"
SUFFIX: Final = {JSON_LINES: "jsonl", CSV: "csv", PARQUET: "parquet"}

_ROWS: Final = 500
_ROWS_OF_A_GROUP: Final = 20000
_BYTES: Final = 65536
_FORMULA: Final = ("=", "+", "-", "@", "\t", "\r")

Writer = Callable[[Mapping[str, Kind], Iterable[Row]], Iterator[bytes]]


class ExportRoute(StrictRoute):
    """A route that hands out tables."""

    offers: ClassVar[tuple[str, ...]] = (JSON_LINES, CSV, PARQUET)


def chosen(accept: str | None) -> str:
    """Return the form that an Accept header wants most; where it does not care, JSON Lines.

    Raises
    ------
    RefusalError
        If nothing but Parquet is wanted and its library is not installed.
    """
    there = [one for one in ExportRoute.offers if one != PARQUET or find_spec("pyarrow") is not None]
    best = max(there, key=lambda one: weight_of(accept, one))
    if weight_of(accept, best) <= 0:
        raise RefusalError("parquet_missing")
    return best


def write(form: str, columns: Mapping[str, Kind], rows: Iterable[Row]) -> Iterator[bytes]:
    """Yield the bytes of a table."""
    writers: dict[str, Writer] = {JSON_LINES: _json_lines, CSV: _csv, PARQUET: _parquet}
    return writers[form](columns, rows)


def _parts(rows: Iterable[Row], count: int) -> Iterator[list[Row]]:
    every = iter(rows)
    while part := list(islice(every, count)):
        yield part


def _json_lines(_: Mapping[str, Kind], rows: Iterable[Row]) -> Iterator[bytes]:
    for part in _parts(rows, _ROWS):
        lines = (json.dumps(row, default=_moment, ensure_ascii=False, allow_nan=False) for row in part)
        yield "".join(f"{line}\n" for line in lines).encode()


def _moment(value: object) -> str:
    assert isinstance(value, date)
    return value.isoformat().replace("+00:00", "Z")


def _csv(columns: Mapping[str, Kind], rows: Iterable[Row]) -> Iterator[bytes]:
    text = io.StringIO()
    writer = csv.writer(text)  # ends lines and quotes as RFC 4180 says
    writer.writerow(columns)
    for part in _parts(rows, _ROWS):
        writer.writerows([_cell(row.get(name)) for name in columns] for row in part)
        yield text.getvalue().encode()
        text.seek(0)
        text.truncate()
    yield text.getvalue().encode()


def _cell(value: Any) -> Any:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, date):
        return _moment(value)
    # a spreadsheet would run a text that begins so
    return f"'{value}" if isinstance(value, str) and value.startswith(_FORMULA) else value


def _parquet(columns: Mapping[str, Kind], rows: Iterable[Row]) -> Iterator[bytes]:
    import pyarrow as pa  # noqa: PLC0415 (an extra, and slow to load)
    import pyarrow.parquet as pq  # noqa: PLC0415

    kinds = {
        "text": pa.string(),
        "number": pa.float64(),
        "whole": pa.int32(),
        "truth": pa.bool_(),
        "moment": pa.timestamp("us", tz="UTC"),
        "day": pa.date32(),
    }
    schema = pa.schema([(name, kinds[kind]) for name, kind in columns.items()])
    # the table of contents of the file comes last, but readers want a file, so it is made whole on the disk
    with tempfile.TemporaryFile() as file:
        with pq.ParquetWriter(file, schema, compression="zstd") as writer:
            for part in _parts(rows, _ROWS_OF_A_GROUP):
                writer.write_table(pa.Table.from_pylist(part, schema=schema))
        file.seek(0)
        while block := file.read(_BYTES):
            yield block
