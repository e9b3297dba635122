"""Annotations of request fields: what a number, a text, a name or a truth value may be.

Inside: one small marker per kind. A body marker is strict (no text for a number, no null); `lax()`
gives the marker of the same field as a query parameter, where everything arrives as text. Outside:
bounds (`limits`), the request models (`requests`).

A marker replaces the schema of an optional field by that of its value: a field may be left out, but
null is refused, because it would be a second way to say the same.
"""

import re
import sys
import unicodedata
from dataclasses import dataclass, replace
from typing import Any, Final

from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from service.api.limits import LIMITS

_DECIMAL: Final = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?")
_COMMA: Final = re.compile(r"[+-]?\d+,\d+")


@dataclass(frozen=True, slots=True)
class Number:
    """A finite number inside the limit of `field`."""

    field: str
    text: bool = False

    def lax(self) -> "Number":
        """Return the marker of the same field as a query parameter."""
        return replace(self, text=True)

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        limit = LIMITS[self.field]
        schema = core_schema.float_schema(strict=not self.text, allow_inf_nan=False, ge=limit.low, le=limit.high)
        return core_schema.no_info_before_validator_function(_decimal_text if self.text else _no_comma, schema)

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> JsonSchemaValue:
        unit = LIMITS[self.field].unit
        return handler(schema) | {"format": "double"} | ({"x-unit": unit} if unit else {})


@dataclass(frozen=True, slots=True)
class Whole:
    """A whole number inside the limit of `field`."""

    field: str
    text: bool = False

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        limit = LIMITS[self.field]
        schema = core_schema.int_schema(strict=not self.text, ge=int(limit.low), le=int(limit.high))
        return core_schema.no_info_before_validator_function(_digits, schema) if self.text else schema

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> JsonSchemaValue:
        limit = LIMITS[self.field]
        return handler(schema) | {"format": "int32", "minimum": int(limit.low), "maximum": int(limit.high)}


@dataclass(frozen=True, slots=True)
class Truth:
    """true or false, and as a query parameter nothing but these two words."""

    text: bool = False

    def lax(self) -> "Truth":
        """Return the marker of the same field as a query parameter."""
        return Truth(text=True)

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        schema = core_schema.bool_schema(strict=True)
        return core_schema.no_info_before_validator_function(_truth, schema) if self.text else schema


@dataclass(frozen=True, slots=True)
class Name:
    """A short text without control characters and without halves of a character."""

    longest: int = 60
    pattern: str | None = None
    lines: bool = False  # whether it may run over several

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        schema = core_schema.str_schema(strict=True, min_length=1, max_length=self.longest, pattern=self.pattern)
        return core_schema.no_info_after_validator_function(_clean_lines if self.lines else _clean, schema)


@dataclass(frozen=True, slots=True)
class Given:
    """Whatever the annotation says, but not null."""

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        schema = handler(source)
        return schema["schema"] if schema["type"] == "nullable" else schema


def _no_comma(value: object) -> object:
    if isinstance(value, int) and abs(value) > sys.float_info.max:
        raise PydanticCustomError("finite_number", "too large for a number")
    if isinstance(value, str) and _COMMA.fullmatch(value):
        raise PydanticCustomError("decimal_comma", "write a point, and no quotes")
    return value


def _decimal_text(value: object) -> object:
    _no_comma(value)
    # float() would also take blanks, underscores, digits of other scripts, "inf" and "nan"
    if isinstance(value, str) and not (value.isascii() and _DECIMAL.fullmatch(value)):
        code = "finite_number" if value.strip("+-").lower() in ("inf", "infinity", "nan") else "float_parsing"
        raise PydanticCustomError(code, "not a decimal number")
    return value


def _digits(value: object) -> object:
    # int() would also take blanks, underscores and digits of other scripts
    if isinstance(value, str) and not (value.isascii() and value.isdecimal() and len(value) < 20):
        raise PydanticCustomError("int_parsing", "not a whole number")
    return value


def _truth(value: object) -> object:
    return {"true": True, "false": False}.get(value, value) if isinstance(value, str) else value


def _clean(value: str) -> str:
    # Cc control, Cs half of a surrogate pair; marks of writing direction (Cf) are part of some names
    if any(unicodedata.category(character) in ("Cc", "Cs") for character in value):
        raise PydanticCustomError("bad_text", "control characters are not allowed")
    return value


def _clean_lines(value: str) -> str:
    _clean(value.replace("\n", ""))
    return value
