"""Rules on responses: what moves which quantity, in which unit, and with the sign the trade agrees on.

Inside: one response at a time against the vocabulary, and that no two answer the same question.
Outside: applying a response.
"""

from collections.abc import Iterable, Iterator
from itertools import pairwise

from service.knowledge.schema import LEVELS, Factor, Response, VocabularyEntry
from service.knowledge.tree import RESPONSES, KnowledgeTree, Problem, fault

# where a response changes nothing; use has none
REFERENCE: dict[Factor, float] = {"grain_moisture": 0, "yield_ratio": 1, "slope_along": 0, "slope_across": 0}
REFERENCE_LEVEL: dict[Factor, str] = {"straw_condition": "normal", "priority": "balanced", "stand": "upright"}
# the order in which levels rise; green straw lies beside the order, on the side of tough
LEVEL_ORDER: dict[Factor, tuple[str, ...]] = {
    "straw_condition": ("dry", "normal", "tough"),
    "stand": LEVELS["stand"],
}
ZERO = 1e-9


def curve_faults(tree: KnowledgeTree) -> Iterator[str]:
    """Yield every fault of responses in responses.toml and in crop files."""
    vocabulary = {entry.id: entry for entry in tree.vocabulary.quantity}
    yield from _file_faults(RESPONSES, tree.responses.response, vocabulary)
    yield from double_answers(RESPONSES, tree.responses.response)
    for file, crop in tree.crops.items():
        yield from _file_faults(file, crop.response, vocabulary)
        yield from double_answers(file, crop.response)
        for response in crop.response:
            if response.groups:
                yield fault(file, (f"response {response.id}", "groups"), "a crop file answers for its crop alone")


def double_answers(file: str, responses: Iterable[Response]) -> Iterator[str]:
    """Yield a fault where two responses of a file hold for one group, quantity, factor and class."""
    seen: dict[tuple[str, str, Factor, str], str] = {}
    for response in responses:
        clashes: dict[str, str] = {}
        for group in response.groups or ("every group",):
            for machine_class in response.classes:
                key = (group, response.quantity, response.factor, machine_class)
                if key in seen:
                    clashes.setdefault(seen[key], f"{group}, {machine_class}")
                seen.setdefault(key, response.id)
        for other, where in clashes.items():
            yield fault(
                file,
                (f"response {response.id}", "classes"),
                f"{other} answers for {response.quantity} by {response.factor} already ({where})",
            )


def _file_faults(file: str, responses: Iterable[Response], vocabulary: dict[str, VocabularyEntry]) -> Iterator[str]:
    for response in responses:
        for key, problem in response_problems(response, vocabulary.get(response.quantity)):
            yield fault(file, (f"response {response.id}", key), problem)


def response_problems(response: Response, quantity: VocabularyEntry | None) -> Iterator[Problem]:
    """Yield the problems of one response: quantity, unit, zero at the reference, sign."""
    if quantity is None:
        yield "quantity", f"{response.quantity!r} is not in the vocabulary"
        return
    if response.mode == "absolute" and response.unit != quantity.unit:
        yield "unit", f"{response.quantity} is in {quantity.unit}, not in {response.unit}"
    key = "knots" if response.knots else "levels"
    at_reference = _change_at_reference(response)
    if abs(at_reference) > ZERO:
        where = REFERENCE.get(response.factor, REFERENCE_LEVEL.get(response.factor))
        yield key, f"the change at the reference ({response.factor} {where}) is {at_reference:g}, not 0"
    if response.factor in ("yield_ratio", "slope_across") and response.knots[0][0] < 0:
        yield "knots", f"{response.factor} is never negative"
    sign = quantity.monotone.get(response.factor)
    if sign is not None:
        yield from ((key, problem) for problem in _sign_problems(response, 1 if sign == "rises" else -1))


def interpolated(knots: list[tuple[float, float]], x: float) -> float:
    """Straight lines between the knots, flat outside; the knots rise."""
    if x <= knots[0][0]:
        return knots[0][1]
    for (x0, y0), (x1, y1) in pairwise(knots):
        if x <= x1:
            return y0 + (y1 - y0) * (x - x0) / (x1 - x0)
    return knots[-1][1]


def _change_at_reference(response: Response) -> float:
    if response.knots:
        return interpolated(response.knots, REFERENCE[response.factor])
    return response.levels.get(REFERENCE_LEVEL.get(response.factor, ""), 0.0)


def _sign_problems(response: Response, sign: int) -> Iterator[str]:
    rises = "rise" if sign > 0 else "fall"
    for (x0, y0), (x1, y1) in pairwise(response.knots):
        if sign * (y1 - y0) < 0:
            yield (
                f"{response.quantity} must {rises} with {response.factor}, "
                f"but goes {y0:g} to {y1:g} from {x0:g} to {x1:g}"
            )
    if not response.levels or response.factor not in LEVEL_ORDER:
        return
    # a level that is not listed changes nothing
    change = {level: response.levels.get(level, 0.0) for level in LEVELS[response.factor]}
    for lower, upper in pairwise(LEVEL_ORDER[response.factor]):
        if sign * (change[upper] - change[lower]) < 0:
            yield (
                f"{response.quantity} must {rises} with {response.factor}, "
                f"but goes {change[lower]:g} to {change[upper]:g} from {lower} to {upper}"
            )
    if response.factor == "straw_condition" and change["green"] * change["tough"] < 0:
        yield f"green ({change['green']:g}) must lie on the side of tough ({change['tough']:g})"
