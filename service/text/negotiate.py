"""Which language a reader gets.

Inside: the `lang` parameter and the Accept-Language header (RFC 9110 section 12.5.4, matched by the
lookup of RFC 4647 section 3.4). Outside: what is written in that language.
"""

from typing import Final

from service.errors import UnknownName
from service.text.catalogue import LANGUAGES
from service.text.numbers import Language

DEFAULT: Final[Language] = "en"


def negotiate(lang_param: str | None, accept_language: str | None) -> Language:
    """Return the language of an answer: what the reader asked for, else the best of the header, else English.

    Raises
    ------
    UnknownName
        If `lang_param` is given and not spoken here. A header never fails: it is a wish.
    """
    if lang_param is not None:
        found = _match(lang_param)
        if found is None:
            raise UnknownName("lang", lang_param, LANGUAGES)
        return found
    ranges = _ranges(accept_language or "")
    refused = {tag for tag, weight in ranges if weight == 0}
    for tag, weight in sorted(ranges, key=lambda item: -item[1]):
        if weight == 0:
            break
        if tag == "*":
            return next((lang for lang in LANGUAGES if lang not in refused), DEFAULT)
        found = _match(tag)
        if found is not None and found not in refused:
            return found
    return DEFAULT


def _match(tag: str) -> Language | None:
    primary = tag.strip().replace("_", "-").split("-")[0].lower()
    return next((lang for lang in LANGUAGES if lang == primary), None)


def _ranges(header: str) -> list[tuple[str, float]]:
    """Language ranges with their weights; a range whose weight cannot be read is left out."""
    found = []
    for element in header.split(","):
        tag, _, parameter = element.partition(";")
        name, _, value = parameter.partition("=")
        if not tag.strip() or (parameter and name.strip().lower() != "q"):
            continue
        try:
            weight = float(value) if parameter else 1.0
        except ValueError:
            continue
        if 0 <= weight <= 1:
            found.append((tag.strip().lower(), weight))
    return found
