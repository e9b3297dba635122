"""The annotation of a request field that is a moment (RFC 3339), with the offset from UTC.

Inside: the form, and refusing a moment without an offset: an hour of weather in an unknown time zone
is no hour. Outside: what the moments mean.
"""

import re
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

_FORM: Final = re.compile(r"\d{4}-\d{2}-\d{2}T\d{2}:\d{2}(:\d{2}(\.\d{1,6})?)?(Z|[+-]\d{2}:\d{2})")
# far enough from the ends of the calendar that ten days more or less stay inside
_YEARS: Final = range(1900, 2200)


@dataclass(frozen=True, slots=True)
class Moment:
    """Date, time and offset; seconds may be left out."""

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.no_info_after_validator_function(
            _moment,
            core_schema.str_schema(strict=True, max_length=40),
            serialization=core_schema.plain_serializer_function_ser_schema(datetime.isoformat, when_used="json"),
        )

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> JsonSchemaValue:
        return handler(schema) | {"format": "date-time"}


def _moment(value: str) -> datetime:
    if _FORM.fullmatch(value) and value.isascii():
        try:
            moment = datetime.fromisoformat(value)
        except ValueError:  # a 30 February
            pass
        else:
            if moment.year in _YEARS:
                return moment
    raise PydanticCustomError("bad_moment", "not a moment with an offset")
