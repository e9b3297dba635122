"""Straw and chaff in wind and on a side slope: calibrated on the still-air pattern, then carried.

Inside: the reach that each material shows, its flight fitted to it, patterns carried by wind and slope.
Outside: the flight itself (`domain.residue_flight`), what to change about it (`residue_changes`).

The stream that was fitted to the trays drifts least, lone pieces drift most, and what a machine throws is
something of both. Patterns are carried by the middle of the two, and both ends are kept; where a discharge
speed was told that does not go with the trays, the drift at that speed is one more end.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np

from service.domain.residue_flight import ANGLES_DEG, Stream, landings_m, shifts_m
from service.domain.residue_reach import Calibrated, calibrated, drag_at
from service.domain.spread_change import Side, carried, mirrored, shifted, stretched, together, turned
from service.domain.spread_pattern import Floats, SpreadPattern, centre_m, quantile_m
from service.errors import InvalidInput, OutOfRange
from service.knowledge.schema import Figure
from service.usecases.residue_trays import Trays

LIMIT_WINDS_M_S: Final = (0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0, 15.0, 18.0, 20.0)
LONE_ANGLES_DEG: Final = (-45.0, 0.0, 45.0)

Drift = Literal["least", "middle", "most"]
Shifts = Mapping[float, float]  # by wind


@dataclass(frozen=True, slots=True)
class Blades:
    """What is set at the spreader, over what it was: all of it in the direction of travel."""

    offset_m: float = 0.0
    throw: float = 1.0
    step_deg: float = 0.0
    side: Side = "both"


@dataclass(frozen=True, slots=True)
class Material:
    """One material: its still-air pattern, its flight, and where the directions land in each wind."""

    code: str
    pattern: SpreadPattern
    middle_m: float
    radius_m: float
    widest_deg: float
    lone: Figure
    found: Calibrated
    still_m: tuple[float, ...]
    landed_m: Mapping[float, tuple[float, ...]]  # by wind, as the fitted stream lands
    stream_shifts_m: Shifts  # mean of the fitted stream
    ends_m: tuple[Shifts, ...]  # the same, that of lone pieces, and that of a told discharge speed
    slope_deg: float
    told_m_s: float | None  # discharge speed that was told and does not go with the trays
    drift: Drift = "middle"

    def set_to(self, blades: Blades) -> SpreadPattern:
        """Still-air pattern with the spreader set otherwise."""
        pattern = self.pattern
        if blades.step_deg:
            pattern = turned(
                pattern,
                blades.step_deg,
                blades.side,
                radius_m=self.radius_m,
                widest_deg=self.widest_deg,
                middle_m=self.middle_m,
            )
        if blades.throw != 1.0:
            pattern = stretched(pattern, blades.throw)
        return shifted(pattern, blades.offset_m) if blades.offset_m else pattern

    def blown(self, pattern: SpreadPattern, middle_m: float, wind_m_s: float) -> SpreadPattern:
        """Pattern carried by a wind and the slope; `middle_m` is the place straight behind the discharge."""
        if wind_m_s == 0 and self.slope_deg == 0:
            return pattern
        places = np.asarray(pattern.positions_m)
        shifts = shifts_m(self.still_m, self.landed(wind_m_s), (places - middle_m).tolist())
        return carried(pattern, _in_order(places, np.asarray(shifts)))

    def landed(self, wind_m_s: float) -> tuple[float, ...]:
        """Landings of all directions in a wind; between two winds that were followed, on straight lines."""
        winds = sorted(self.landed_m)
        rows = np.asarray([self._row(wind) for wind in winds])
        return tuple(float(np.interp(wind_m_s, winds, rows[:, place])) for place in range(rows.shape[1]))

    def _row(self, wind_m_s: float) -> Floats:
        """Landings in a wind that was followed, moved on to the drift that is wanted."""
        stream, ends = self.stream_shifts_m[wind_m_s], [one[wind_m_s] for one in self.ends_m]
        wanted = {
            "least": min(ends, key=abs),
            "middle": (self.ends_m[0][wind_m_s] + self.ends_m[1][wind_m_s]) / 2,
            "most": max(ends, key=abs),
        }[self.drift]
        return np.asarray(self.landed_m[wind_m_s]) + (wanted - stream)

    def drifting(self, drift: Drift) -> "Material":
        """The same material at another end of its drift."""
        return replace(self, drift=drift)

    def mean_shift_m(self, wind_m_s: float) -> float:
        """How far the centre of the pattern is moved."""
        return centre_m(self.blown(self.pattern, self.middle_m, wind_m_s)) - centre_m(self.pattern)


def _in_order(places: Floats, shifts: Floats) -> list[float]:
    """Landings from left to right; where strong wind makes pieces cross they come down together."""
    landings = places + shifts
    rising = np.maximum.accumulate(landings), np.minimum.accumulate(landings[::-1])[::-1]
    # both ways, so that the mirror image is the image of the mirror; the last term keeps two nodes apart
    found: list[float] = ((rising[0] + rising[1]) / 2 + 1e-3 * (places - places.mean())).tolist()
    return found


def materials_of(trays: Trays) -> tuple[Material, ...]:
    """Calibrate each material on its pattern.

    Raises
    ------
    InvalidInput
        If no discharge speed throws as far as the trays say.
    """
    figures = trays.figures
    lone = {"straw": figures.straw_fall_speed, "chaff": figures.chaff_fall_speed}
    return tuple(_material(trays, code, pattern, lone[code]) for code, pattern in trays.materials.items())


def _material(trays: Trays, code: str, pattern: SpreadPattern, lone: Figure) -> Material:
    figures, question = trays.figures, trays.question
    speed = question.discharge_speed_m_s or figures.discharge_speed.value
    height = question.discharge_height_m or figures.discharge_height.value
    tail = (1 - figures.reach_share.value / 100) / 2
    ends = quantile_m(pattern, tail), quantile_m(pattern, 1 - tail)
    widest = figures.widest_angle.value
    radius = (ends[1] - ends[0]) / 2 / math.sin(math.radians(widest))
    fastest = max(speed, figures.discharge_speed.high or speed)
    try:
        found = calibrated(radius, lone.value, speed, height, figures.stream_gain.value, fastest)
    except OutOfRange as refused:
        raise InvalidInput("positions_m", reason="reason.trays_too_wide") from refused
    winds = sorted({question.crosswind_m_s, *LIMIT_WINDS_M_S} | {-wind for wind in LIMIT_WINDS_M_S})
    rows = landings_m(found.stream, ANGLES_DEG, winds, question.slope_across_deg)
    told = _contradicted(question.discharge_speed_m_s, found, figures.told_speed_share.value)
    still = tuple(radius * math.sin(math.radians(angle)) for angle in ANGLES_DEG)
    landed, middle = dict(zip(winds, rows, strict=True)), (ends[0] + ends[1]) / 2
    stream = {wind: _mean_shift(pattern, middle, still, row) for wind, row in landed.items()}
    lone_stream = Stream(lone.value, speed, height)
    others = [lone_stream] if told is None else [lone_stream, _told_stream(radius, told, height, lone_stream)]
    return Material(
        code=code,
        pattern=pattern,
        middle_m=middle,
        radius_m=radius,
        widest_deg=widest,
        lone=lone,
        found=found,
        still_m=still,
        landed_m=landed,
        stream_shifts_m=stream,
        ends_m=(stream, *(_shifts(one, winds, question.slope_across_deg) for one in others)),
        slope_deg=question.slope_across_deg,
        told_m_s=told,
    )


def _contradicted(told_m_s: float | None, found: Calibrated, share_pct: float) -> float | None:
    """The discharge speed that was told, if the trays want another one."""
    if told_m_s is None or abs(found.stream.discharge_speed_m_s - told_m_s) <= share_pct / 100 * told_m_s:
        return None
    return told_m_s


def _told_stream(radius_m: float, told_m_s: float, height_m: float, lone: Stream) -> Stream:
    """Stream of the told speed that lands where the trays say; where none does, lone pieces at that speed."""
    try:
        return drag_at(radius_m, told_m_s, height_m)
    except OutOfRange:
        return lone


def _mean_shift(pattern: SpreadPattern, middle_m: float, still_m: tuple[float, ...], row: tuple[float, ...]) -> float:
    """Mean over the mass of how far a row of landings lies from the one in still air."""
    places = np.asarray(pattern.positions_m)
    weights = np.asarray(pattern.layer) * np.gradient(places)
    return float(np.average(shifts_m(still_m, row, (places - middle_m).tolist()), weights=weights))


def _shifts(stream: Stream, winds: list[float], slope_deg: float) -> Shifts:
    """Mean drift of pieces that fly as a stream does, by wind."""
    (still,) = landings_m(stream, LONE_ANGLES_DEG, [0.0], 0.0)
    rows = landings_m(stream, LONE_ANGLES_DEG, winds, slope_deg)
    return {wind: float(np.mean(np.subtract(row, still))) for wind, row in zip(winds, rows, strict=True)}


def behind(materials: tuple[Material, ...], blades: Blades, wind_m_s: float, *, coming_back: bool) -> SpreadPattern:
    """Pattern of one pass on the field, right as seen on the way out; `blades` in its own direction of travel."""
    layers = []
    for material in materials:
        pattern = material.set_to(blades)
        middle = material.middle_m * blades.throw + blades.offset_m
        if coming_back:
            pattern, middle = mirrored(pattern), -middle
        layers.append(material.blown(pattern, middle, wind_m_s))
    return together(layers)
