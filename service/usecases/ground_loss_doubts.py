"""Losses that cannot be, losses that are hard to believe, and what the way of measuring leaves open.

Inside: refusing more loss than there was grain, and every warning of the answer but those of the frames
(`ground_loss_frames`), of the places (`ground_loss_places`) and of the kernel mass (`ground_loss_terms`),
which are passed on. Outside: the losses themselves.
"""

from collections.abc import Iterator, Sequence
from typing import Final

from service.domain.kernel_counts import kernels_in_frame, strip_depth
from service.domain.losses import loss_for_share
from service.domain.types import Message, Quantity
from service.errors import Contradiction
from service.usecases.ground_loss_frames import Ground
from service.usecases.ground_loss_places import PARTS, Places
from service.usecases.ground_loss_terms import SQUARE_FOOT_M2, Terms
from service.usecases.loss_types import FrameSet, LossQuestion, Place, PlaceLoss

_LAID_IN: Final[dict[str, tuple[Place, ...]]] = {
    "preharvest": ("standing",),
    "header": ("cut_ahead", "outside"),
    "machine": ("discharge",),
    "threshing": ("discharge",),
    "separation": ("discharge",),
    "cleaning": ("discharge",),
}
_RARE_PCT: Final = 30.0  # of what grew
_SMALL_SEED_G: Final = 10.0  # below this seeds are too many and too fine to count
_FEW_KERNELS: Final = 5.0  # a frame that holds fewer at 1 % loss is too small
_STRIP_M2: Final = 10 * SQUARE_FOOT_M2  # the trade's strip across the cut
_LARGE_FRAME_M2: Final = 0.9  # the strip, however its area was rounded
_EARS_M2: Final = 435.6 * SQUARE_FOOT_M2  # one hundredth of an acre, on which ears are gathered


def refuse_impossible(question: LossQuestion, terms: Terms, places: Places) -> None:
    """Refuse a part, or header and machine together, above the harvested yield.

    Before harvest a storm can lay down more than is left to gather, so there the usual yield counts too.

    Raises
    ------
    Contradiction
        If frames and yield cannot both be right.
    """
    harvested = terms.yield_t_ha * 1000
    grown = max(harvested, terms.crop.physical.reference_yield.value * 1000)
    together: dict[str, tuple[Place, ...]] = {"caused": ("cut_ahead", "outside", "discharge")}
    for code, laid_in in (_LAID_IN | together).items():
        if code not in places.losses:
            continue
        mass = places.losses[code].value
        before_harvest = code == "preharvest" or (code == "header" and "preharvest" not in places.losses)
        if mass > (grown if before_harvest else harvested):
            raise Contradiction(
                [*_found_in(question.frames, laid_in), "yield_t_ha" if question.yield_bu_ac is None else "yield_bu_ac"],
                "loss.more_than_harvest",
                loss=Message(f"loss.{code}"),
                mass=Quantity(mass, "kg/har"),
                harvested=Quantity(harvested, "kg/har"),
            )


def _found_in(frames: Sequence[FrameSet], places: tuple[Place, ...]) -> list[str]:
    return [
        f"frames.{number}.{'kernels' if one.kernels else 'masses_g'}"
        for number, one in enumerate(frames)
        if one.place in places
    ]


def doubts(
    question: LossQuestion, terms: Terms, ground: Ground, places: Places, losses: Sequence[PlaceLoss]
) -> Iterator[Message]:
    """Every warning, in the order in which they are read."""
    coverage = terms.crop.coverage["ground_loss"]
    if coverage.why is not None:
        yield Message("loss.partial_cover", {"why": coverage.why})
    yield from _hard_to_believe(losses)
    counted = any(pool.everything.counted for pool in ground.pools.values())
    if terms.kernel_mass.origin != "default" or counted:
        yield from terms.kernel_mass.warnings
    yield from _frame_size(question, terms)
    yield from ground.warnings
    yield from places.warnings
    yield from _method(question, terms, ground, places)
    yield from _header(question, terms, places)


def _hard_to_believe(losses: Sequence[PlaceLoss]) -> Iterator[Message]:
    large = [one.code for one in losses if one.share_pct.value > _RARE_PCT]
    # where a part is large, the sums only say so again
    named = [code for code in large if code in _LAID_IN] or large
    if named:
        facts = {"limit": Quantity(_RARE_PCT, "%"), "parts": [Message(f"loss.{code}") for code in named]}
        yield Message("loss.hard_to_believe", facts)


def _frame_size(question: LossQuestion, terms: Terms) -> Iterator[Message]:
    """Seeds too fine to count, or so large that a frame holds hardly any."""
    mass = terms.kernel_mass.limits.value
    if mass < _SMALL_SEED_G and any(one.kernels for one in question.frames):
        yield Message("loss.small_seed", {"mass": Quantity(mass, "g")})
    one_percent = loss_for_share(1.0, terms.yield_t_ha * 1000)
    for one in question.frames:
        in_strip = one.place == "discharge"
        here = one_percent * (terms.concentration if in_strip else 1.0)
        kernels = kernels_in_frame(here, mass, one.area_m2)
        if one.area_m2 < _LARGE_FRAME_M2 and kernels < _FEW_KERNELS:
            width = question.discharge_width_m if in_strip else question.cut_width_m
            facts = {
                "place": Message(f"place.{one.place}"),
                "kernels": round(kernels, 1),
                "area": Quantity(one.area_m2, "m2"),
                "depth": Quantity(1000 * strip_depth(_STRIP_M2, width), "mm"),
                "width": Quantity(width, "m"),
                "strip_area": Quantity(_STRIP_M2, "m2"),
            }
            yield Message("loss.frame_too_small", facts)


def _method(question: LossQuestion, terms: Terms, ground: Ground, places: Places) -> Iterator[Message]:
    """What the way of measuring leaves open."""
    discharge = any(one.place == "discharge" for one in question.frames)
    if question.spreading == "spread" and discharge:
        yield Message("loss.spreader_running")
        if "outside" in ground.pools:
            yield Message("loss.outside_spread")
    if terms.concentration > 1 and "machine" in places.losses:
        yield Message("loss.concentration", {"factor": round(terms.concentration, 2)})
    if "total" not in places.losses:
        yield Message("loss.share_without")


def _header(question: LossQuestion, terms: Terms, places: Places) -> Iterator[Message]:
    """What the kind of header means for the frames."""
    if terms.header == "pickup":
        yield Message("loss.pickup")
    takes_ears = terms.header == "row_crop" or terms.crop.group == "maize"
    if takes_ears and any(part in places.losses for part in PARTS):
        length = strip_depth(_EARS_M2, question.cut_width_m)
        facts = {"area": Quantity(_EARS_M2, "m2"), "length": Quantity(length, "m")}
        yield Message("loss.ears", {**facts, "width": Quantity(question.cut_width_m, "m")})
