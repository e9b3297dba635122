"""What a misspelt field or name was likely meant to be.

Inside: the fields and choices at a place of a request model, and their nearness to what was written.
Outside: names of the knowledge table (`errors.UnknownName` brings its own nearest ones).
"""

from collections.abc import Sequence
from difflib import SequenceMatcher, get_close_matches
from functools import cache
from types import NoneType, UnionType
from typing import Annotated, Any, Final, Literal, Union, get_args, get_origin

from fastapi.routing import APIRoute
from pydantic import BaseModel

from service.api.refusal import Location

_NEAR: Final = 0.72
_FAR: Final = 0.7
_MOST: Final = 3
_LONGEST: Final = 60  # comparing takes the product of the lengths


def nearest_fields(given: str, known: Sequence[str]) -> list[str]:
    """Fields that `given` may have meant: near the whole name, the name without its unit, or one word of it."""
    word = given.lower()
    if len(word) > _LONGEST:
        return []
    ranked = sorted(((_nearness(word, name), name) for name in known), key=lambda one: (-one[0], known.index(one[1])))
    return [name for score, name in ranked if score >= _NEAR][:_MOST]


def _nearness(given: str, name: str) -> float:
    whole = _ratio(given, name)
    part = max(_ratio(given, stem) for stem in _stems(name))
    # a single word that fits ranks below the whole name that fits
    return max(whole, part * 0.97 + whole * 0.02)


@cache
def _stems(name: str) -> frozenset[str]:
    """The beginnings of a name and its longer words."""
    words = name.split("_")
    beginnings = {"_".join(words[:count]) for count in range(1, len(words) + 1)}
    return frozenset(beginnings | {word for word in words if len(word) > 3})


def _ratio(one: str, other: str) -> float:
    """Likeness of two words; 0 without looking closer where lengths or letters forbid nearness."""
    matcher = SequenceMatcher(None, one, other)
    if matcher.real_quick_ratio() < _FAR or matcher.quick_ratio() < _FAR:
        return 0.0
    return matcher.ratio()


def nearest_names(given: object, known: Sequence[str]) -> list[str]:
    """Names of a closed list that `given` may have meant."""
    if not isinstance(given, str) or len(given) > _LONGEST:
        return []
    return get_close_matches(given.lower(), known, n=_MOST, cutoff=0.6)


def fields_at(route: APIRoute, location: Location) -> list[str]:
    """Names of the fields at a place of the route's body or query."""
    model = _annotation_at(route, location)
    return list(model.model_fields) if isinstance(model, type) and issubclass(model, BaseModel) else []


def choices_at(route: APIRoute, location: Location) -> list[str]:
    """Names of the closed list at a place of the route's body or query."""
    annotation = _annotation_at(route, location)
    return [str(one) for one in get_args(annotation)] if get_origin(annotation) is Literal else []


def _annotation_at(route: APIRoute, location: Location) -> Any:
    if not location:
        return None
    kind, *steps = location
    dependants = [route.dependant, *route.dependant.dependencies]
    fields = [route.body_field] if kind == "body" else [one for each in dependants for one in each.query_params]
    here: Any = next((field.field_info.annotation for field in fields if field is not None), None)
    for step in steps:
        here = _bare(here)
        if isinstance(step, int):
            here = next(iter(get_args(here)), None)
        elif isinstance(here, type) and issubclass(here, BaseModel) and step in here.model_fields:
            here = here.model_fields[step].annotation
        else:
            return None
    return _bare(here)


def _bare(annotation: Any) -> Any:
    """Strip markers and the None of an optional field."""
    while True:
        if get_origin(annotation) is Annotated:
            annotation = get_args(annotation)[0]
        elif get_origin(annotation) in (Union, UnionType):
            annotation = next(one for one in get_args(annotation) if one is not NoneType)
        else:
            return annotation
