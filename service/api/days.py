"""The annotation of a request field that is a day of the calendar (RFC 3339 full-date)."""

import re
from dataclasses import dataclass
from datetime import date
from typing import Any, Final

from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

_FORM: Final = re.compile(r"\d{4}-\d{2}-\d{2}")
_YEARS: Final = range(1900, 2200)


@dataclass(frozen=True, slots=True)
class Day:
    """Year, month and day."""

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.no_info_after_validator_function(_day, core_schema.str_schema(strict=True, max_length=40))

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> JsonSchemaValue:
        return handler(schema) | {"format": "date"}


def _day(value: str) -> date:
    if _FORM.fullmatch(value) and value.isascii():
        try:
            day = date.fromisoformat(value)
        except ValueError:  # a 30 February
            pass
        else:
            if day.year in _YEARS:
                return day
    raise PydanticCustomError("bad_day", "not a day")
