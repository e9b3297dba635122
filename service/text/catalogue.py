"""Message codes to sentences.

Inside: the gettext catalogues under `locale/`, read once, and filling their placeholders. Outside:
numbers and units (`numbers`), which language a reader wants (`negotiate`).

A catalogue entry has the message code as msgid, so that English is a translation like any other and
can be reworded without touching code.
"""

import re
from collections.abc import Mapping
from datetime import datetime
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import Final, get_args

from babel.dates import format_datetime
from babel.lists import format_list
from babel.messages.pofile import read_po

from service.domain.types import Message, Quantity
from service.knowledge.schema import LocalText
from service.text.numbers import Language, decimal, quantity
from service.units import UnitSystem

LANGUAGES: Final[tuple[Language, ...]] = get_args(Language)
# a moment within days, in the time zone that it came with
_MOMENT: Final[dict[Language, str]] = {"en": "EEE d MMM, HH:mm", "de": "EEE d. MMM, HH:mm"}
_PLACEHOLDER: Final = re.compile(r"\{([a-z][a-z0-9_]*)\}")


@cache
def catalogue(lang: Language) -> Mapping[str, str]:
    """Return code -> text of one language."""
    path = files("service.text").joinpath("locale", lang, "LC_MESSAGES", "threshbook.po")
    with path.open("rb") as file:
        entries = read_po(file, locale=lang, abort_invalid=True)
    return MappingProxyType({str(entry.id): str(entry.string) for entry in entries if entry.id})


def placeholders(text: str) -> frozenset[str]:
    """Return the names in braces that a text wants filled."""
    return frozenset(_PLACEHOLDER.findall(text))


def names(text: LocalText, lang: Language) -> str:
    """Return a name of the knowledge table in this language, in English where none is written."""
    return text.de if lang == "de" and text.de is not None else text.en


def render(message: Message, lang: Language, units: UnitSystem) -> str:
    """Return the sentence of a message, filled for this reader.

    Raises
    ------
    KeyError
        If the catalogue lacks the code, or the message lacks a parameter that its text wants. Both
        are mistakes in the program, which the tests find; neither depends on a request.
    """
    try:
        text = catalogue(lang)[message.code]
    except KeyError:
        raise KeyError(f"no {lang} text for message code {message.code!r}") from None
    return _PLACEHOLDER.sub(lambda found: _filled(message, found[1], lang, units), text)


def _filled(message: Message, name: str, lang: Language, units: UnitSystem) -> str:
    try:
        value = message.params[name]
    except KeyError:
        raise KeyError(f"message {message.code!r} lacks parameter {name!r}") from None
    return _written(value, lang, units)


def _written(value: object, lang: Language, units: UnitSystem) -> str:
    match value:
        case str():
            return value
        case int() | float() | datetime():
            return _plain(value, lang)
        case Quantity():
            return quantity(value, lang, units)
        case Message():
            return render(value, lang, units)
        case LocalText():
            return names(value, lang)
        case list() | tuple():
            return str(format_list([_written(item, lang, units) for item in value], locale=lang))
    raise TypeError(f"cannot write {type(value).__name__} in a text")


def _plain(value: float | datetime, lang: Language) -> str:
    if isinstance(value, datetime):
        return str(format_datetime(value, _MOMENT[lang], locale=lang))
    return decimal(value, lang)
