"""Frames of a ground-loss question, pooled by where they lay and what they caught.

Inside: what frames may say, pooling, the density of each pool with its limits, frames still missing.
Outside: which loss follows from which pools (`ground_loss_places`).
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import chain
from typing import Final, Literal

from service.domain.intervals import difference, scaled
from service.domain.sampling import CountedDensity, counted_density, frames_needed, garwood_interval
from service.domain.types import Interval, Message
from service.domain.weighing import frames_needed_weighed, variation_pct, weighed_density
from service.errors import Contradiction, InvalidInput, OutOfRange
from service.usecases.loss_types import FrameSet, FrameSummary

# cut: what lay on cut ground before the discharge; ground, pan, straw, chaff: discharge frames by kind
Group = Literal["standing", "cut_ahead", "outside", "cut", "ground", "pan", "straw", "chaff"]
Kind = Literal["everything", "free", "unthreshed"]
FEW_FRAMES: Final = 4  # Staton, Michigan State University Extension (2012): at least four across the header
_WANTED: Final = 0.20


@dataclass(frozen=True, slots=True)
class Density:
    """Per square metre with 95 % limits: kernels where counted, else grams."""

    limits: Interval
    counted: bool


@dataclass(frozen=True, slots=True)
class Pool:
    """All frames of one group. Without kernels counted apart in heads there is no `unthreshed` density."""

    sets: tuple[FrameSet, ...]
    area_m2: float
    frames: int
    densities: dict[Kind, Density]
    spread: CountedDensity | None  # None where weighed

    @property
    def everything(self) -> Density:
        """Free and unthreshed kernels together."""
        return self.densities["everything"]

    @property
    def has_heads(self) -> bool:
        """Whether kernels in heads were counted apart."""
        return "unthreshed" in self.densities


@dataclass(frozen=True, slots=True)
class Ground:
    """The pools, what was found in each place, and what to say about the sampling."""

    pools: dict[Group, Pool]
    summaries: tuple[FrameSummary, ...]
    warnings: tuple[Message, ...]


def read_frames(sets: Sequence[FrameSet], kernel_mass_g: float) -> Ground:
    """Check and pool the frames.

    Raises
    ------
    Contradiction, InvalidInput, OutOfRange
        If frames are missing or say what cannot be; the field leads to the frame set.
    """
    if not sets:
        raise InvalidInput("frames", reason="loss.no_frames")
    for place, frames in enumerate(sets):
        _check(f"frames.{place}", frames)
    groups: dict[Group, list[int]] = {}
    for place, frames in enumerate(sets):
        groups.setdefault(_group(frames), []).append(place)
    for places in groups.values():
        _check_alike(sets, places)
    pools = {group: _pool([sets[i] for i in places], kernel_mass_g) for group, places in groups.items()}
    summaries = tuple(_summary(pool, kernel_mass_g) for pool in pools.values())
    warnings = list(_notes(list(pools.values())))
    before = _cut_ground(pools, kernel_mass_g)
    if before is not None:
        pools["cut"], more = before
        warnings += more
    return Ground(pools, summaries, tuple(warnings))


def _check(where: str, frames: FrameSet) -> None:
    counts, masses = f"{where}.kernels", f"{where}.masses_g"
    if not frames.area_m2 > 0:
        raise OutOfRange(f"{where}.area_m2", frames.area_m2, 0, None, "m2", reason="not_above")
    if frames.kernels and frames.masses_g:
        raise Contradiction([counts, masses], "loss.counts_and_masses")
    if not frames.kernels and not frames.masses_g:
        raise InvalidInput(counts, reason="loss.nothing_in_frames")
    found = frames.kernels or frames.masses_g
    if frames.unthreshed_kernels and len(frames.unthreshed_kernels) != len(found):
        fields = [f"{where}.unthreshed_kernels", counts if frames.kernels else masses]
        raise Contradiction(
            fields, "loss.unthreshed_length", unthreshed=len(frames.unthreshed_kernels), frames=len(found)
        )
    if frames.place != "discharge" and (frames.catch != "all" or frames.surface != "ground"):
        field = "catch" if frames.catch != "all" else "surface"
        raise Contradiction([f"{where}.{field}", f"{where}.place"], "loss.only_in_discharge")


def _group(frames: FrameSet) -> Group:
    if frames.place != "discharge":
        return frames.place
    return frames.surface if frames.catch == "all" else frames.catch


def _check_alike(sets: Sequence[FrameSet], places: Sequence[int]) -> None:
    """Refuse counts beside masses, and unthreshed kernels told in part, within one group."""
    first = places[0]
    for other in places[1:]:
        if bool(sets[first].kernels) != bool(sets[other].kernels):
            fields = [f"frames.{i}.{'kernels' if sets[i].kernels else 'masses_g'}" for i in (first, other)]
            raise Contradiction(fields, "loss.mixed_in_place")
        if bool(sets[first].unthreshed_kernels) != bool(sets[other].unthreshed_kernels):
            raise Contradiction([f"frames.{i}.unthreshed_kernels" for i in (first, other)], "loss.unthreshed_in_part")


def _pool(sets: Sequence[FrameSet], kernel_mass_g: float) -> Pool:
    counted = bool(sets[0].kernels)
    areas = [one.area_m2 for one in sets for _ in one.kernels or one.masses_g]
    free: list[float] = list(chain.from_iterable(one.kernels or one.masses_g for one in sets))
    heads: list[float] = list(chain.from_iterable(one.unthreshed_kernels for one in sets))
    gram = 1.0 if counted else kernel_mass_g / 1000
    everything = [f + gram * u for f, u in zip(free, heads, strict=True)] if heads else free
    spread = counted_density(everything, areas) if counted else None
    whole = Density(spread.density_m2, counted=True) if spread else _weighed(everything, areas, kernel_mass_g)
    densities: dict[Kind, Density] = {"everything": whole, "free": whole}
    if heads:
        densities["free"] = _counted(free, areas) if counted else _weighed(free, areas, kernel_mass_g)
        densities["unthreshed"] = _counted(heads, areas)
    return Pool(tuple(sets), sum(areas), len(areas), densities, spread)


def _counted(counts: Sequence[float], areas_m2: Sequence[float]) -> Density:
    return Density(counted_density(counts, areas_m2).density_m2, counted=True)


def _weighed(masses_g: Sequence[float], areas_m2: Sequence[float], kernel_mass_g: float) -> Density:
    """Limits of weighed frames: between frames, but never closer than the chance of single kernels."""
    area = sum(areas_m2)
    chance = scaled(garwood_interval(1000 * sum(masses_g) / kernel_mass_g), kernel_mass_g / 1000 / area)
    if len(masses_g) == 1:
        return Density(chance, counted=False)
    between = weighed_density(masses_g, areas_m2)
    limits = Interval(between.value, min(between.low, chance.low), max(between.high, chance.high))
    return Density(limits, counted=False)


def _cut_ground(pools: dict[Group, Pool], kernel_mass_g: float) -> tuple[Pool, list[Message]] | None:
    """What lay on cut ground: ahead and outside together where they agree, else what lay ahead."""
    ahead, outside = pools.get("cut_ahead"), pools.get("outside")
    if ahead is None or outside is None:
        only = ahead or outside
        return None if only is None else (only, [])
    gap = difference(*(in_grams(pool.everything, kernel_mass_g) for pool in (ahead, outside)))
    if not gap.low <= 0 <= gap.high:
        return ahead, [Message("loss.outside_differs")]
    alike = ahead.everything.counted == outside.everything.counted
    if alike and ahead.has_heads == outside.has_heads:
        return _pool([*ahead.sets, *outside.sets], kernel_mass_g), []
    return ahead, [Message("loss.outside_other_kind")]


def in_grams(density: Density, kernel_mass_g: float) -> Interval:
    """Grams per square metre at an exact kernel mass."""
    return scaled(density.limits, kernel_mass_g / 1000) if density.counted else density.limits


def _summary(pool: Pool, kernel_mass_g: float) -> FrameSummary:
    first, spread = pool.sets[0], pool.spread
    limits = pool.everything.limits if spread else scaled(pool.everything.limits, 1000 / kernel_mass_g)
    return FrameSummary(
        place=first.place,
        catch=first.catch,
        frames=pool.frames,
        area_m2=pool.area_m2,
        kernels=limits.value * pool.area_m2,
        density_m2=limits,
        model=spread.model if spread else "weighed",
        dispersion=spread.dispersion if spread else None,
        k=spread.k if spread else None,
        more_frames=_more_frames(pool, kernel_mass_g),
        surface="pan" if first.catch != "all" else first.surface,
    )


def _more_frames(pool: Pool, kernel_mass_g: float) -> int | None:
    """Frames still missing for limits of 20 % either side."""
    if pool.everything.limits.value == 0:
        return None
    if pool.spread is not None:
        mean = pool.everything.limits.value * pool.area_m2 / pool.frames
        k = pool.spread.k
        needed = frames_needed(mean, _WANTED) if k is None else frames_needed(mean, _WANTED, k)
        return max(0, needed - pool.frames)
    if pool.frames == 1:
        return None
    masses = [m + u * kernel_mass_g / 1000 for one in pool.sets for m, u in _with_heads(one)]
    areas = [one.area_m2 for one in pool.sets for _ in one.masses_g]
    return max(0, frames_needed_weighed(variation_pct(masses, areas), _WANTED) - pool.frames)


def _with_heads(frames: FrameSet) -> Iterator[tuple[float, float]]:
    heads = frames.unthreshed_kernels or (0,) * len(frames.masses_g)
    return zip(frames.masses_g, heads, strict=True)


def _notes(pools: Sequence[Pool]) -> Iterator[Message]:
    """Where the sampling is thin or the frames differ by more than chance."""
    thin = [pool for pool in pools if 1 < pool.frames < FEW_FRAMES]
    single = [pool for pool in pools if pool.frames == 1]
    uneven = [pool for pool in pools if pool.spread is not None and pool.spread.model == "negative_binomial"]
    for code, found in (("loss.one_frame", single), ("loss.few_frames", thin), ("loss.uneven", uneven)):
        if found:
            places = dict.fromkeys(pool.sets[0].place for pool in found)
            yield Message(code, {"places": [Message(f"place.{place}") for place in places]})
