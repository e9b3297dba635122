"""Which loss follows from which frames, and how sure it is.

Inside: each loss as a weighted sum of pooled densities, its limits, what cannot be told and why.
Outside: pooling (`ground_loss_frames`), percent, money and verdicts (`ground_loss`).

A loss is sum (a + b q) d over densities d, where q = discharge width / cut width. So densities that
enter two losses are never counted as independent of each other, the kernel mass is one factor for
all, and q touches the machine's share alone.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final

from service.domain.intervals import combined, propagated, scaled
from service.domain.sampling import garwood_interval
from service.domain.types import Interval, Message, Quantity
from service.usecases.ground_loss_frames import Density, Ground, Group, Kind, Pool
from service.usecases.ground_loss_terms import Terms
from service.usecases.loss_types import NotMeasured

Form = Mapping[tuple[Group, Kind], tuple[float, float]]
PARTS: Final = ("preharvest", "header", "machine")
_WHY: Final = {
    "preharvest": "loss.why_no_standing",
    "header": "loss.why_no_cut_ground",
    "machine": "loss.why_no_discharge",
    "threshing": "loss.why_no_unthreshed",
    "separation": "loss.why_not_apart",
    "cleaning": "loss.why_not_apart",
}
ORDER: Final = ("preharvest", "header", "machine", "threshing", "separation", "cleaning", "caused", "total")


@dataclass(frozen=True, slots=True)
class Places:
    """Losses in kg/ha as reported, never negative, with what cannot be told and what to say."""

    losses: dict[str, Interval]
    not_measured: tuple[NotMeasured, ...]
    warnings: tuple[Message, ...]
    dominant: str | None
    dominant_sure: bool


def locate(ground: Ground, terms: Terms) -> Places:
    """Tell the loss of each place as far as the frames allow."""
    meter = _Meter(ground.pools, terms.kernel_mass.limits, terms.strip)
    forms = _forms(ground.pools)
    signed = {code: meter.loss(form) for code, form in forms.items()}
    losses = {code: meter.reported(forms[code], signed[code]) for code in forms}
    losses |= _sums(meter, forms, losses)
    missing = tuple(NotMeasured(code, _why(code, ground.pools, meter, losses)) for code in ORDER if code not in losses)
    dominant = _dominant(losses)
    sure = dominant is not None and all(
        meter.loss(_minus(forms[dominant], forms[other])).low > 0
        for other in PARTS
        if other in forms and other != dominant
    )
    return Places(
        {code: losses[code] for code in ORDER if code in losses},
        missing,
        tuple(_warnings(ground.pools, meter, forms, signed)),
        dominant,
        sure,
    )


@dataclass(frozen=True, slots=True)
class _Meter:
    """Turns forms into kg/ha."""

    pools: Mapping[Group, Pool]
    kernel_mass_g: Interval
    strip: Interval

    def loss(self, form: Form) -> Interval:
        """Value and limits, negative where sampling has it so."""
        counted: list[tuple[float, Interval]] = []
        weighed: list[tuple[float, Interval]] = []
        for key, (a, b) in form.items():
            density = self._density(key)
            (counted if density.counted else weighed).append((a + b * self.strip.value, density.limits))
        grams = scaled(self.kernel_mass_g, 1 / 1000)
        mass = combined(
            [(1, propagated(combined(counted), grams)), (1, combined(weighed)), (1, self._strip_error(form))]
        )
        return scaled(mass, 10)

    def reported(self, form: Form, signed: Interval) -> Interval:
        """Loss that people can read: at least zero, and where it is zero, a limit that is not."""
        if signed.value > 0:
            return Interval(signed.value, max(0.0, signed.low), signed.high)
        return Interval(0.0, 0.0, max(signed.high, self._unseen(form)))

    def _strip_error(self, form: Form) -> Interval:
        """What the uncertain strip width adds: the concentrated part times the error of q."""
        part = sum(b * self._grams(key) for key, (_, b) in form.items())
        ends = [part * (end - self.strip.value) for end in (self.strip.low, self.strip.high)]
        return Interval(0.0, min(ends), max(ends))

    def _unseen(self, form: Form) -> float:
        """Upper limit had the frames that speak for this loss held no kernel at all."""
        return max(
            (a + b * self.strip.value)
            * garwood_interval(0).high
            / self.pools[group].area_m2
            * self.kernel_mass_g.value
            / 100
            for (group, _), (a, b) in form.items()
            if a + b > 0
        )

    def _grams(self, key: tuple[Group, Kind]) -> float:
        density = self._density(key)
        return density.limits.value * (self.kernel_mass_g.value / 1000 if density.counted else 1)

    def _density(self, key: tuple[Group, Kind]) -> Density:
        group, kind = key
        return self.pools[group].densities[kind]


def _forms(pools: Mapping[Group, Pool]) -> dict[str, Form]:
    """Every loss that these pools can tell, sums left out."""
    forms: dict[str, Form] = {}
    standing: Form = {("standing", "everything"): (1, 0)} if "standing" in pools else {}
    if standing:
        forms["preharvest"] = standing
    if "cut" in pools:
        forms["header"] = _minus({("cut", "everything"): (1, 0)}, standing)
    machine = next(iter(_machine_forms(pools)), None)
    if machine is not None:
        forms["machine"] = machine
    threshing = _threshing_form(pools)
    if threshing:
        forms["threshing"] = threshing
    if "straw" in pools:
        forms["separation"] = {("straw", "free"): (0, 1)}
    if "chaff" in pools:
        forms["cleaning"] = {("chaff", "free"): (0, 1)}
    return forms


def _machine_forms(pools: Mapping[Group, Pool]) -> Iterator[Form]:
    """Ways to the machine loss, best first: a pan has no earlier loss in it to be taken off."""
    if "straw" in pools and "chaff" in pools:
        yield {("straw", "everything"): (0, 1), ("chaff", "everything"): (0, 1)}
    if "pan" in pools:
        yield {("pan", "everything"): (0, 1)}
    if "ground" in pools and "cut" in pools:
        yield {("ground", "everything"): (0, 1), ("cut", "everything"): (0, -1)}


def _threshing_form(pools: Mapping[Group, Pool]) -> Form:
    for groups in (("straw", "chaff"), ("pan",), ("ground",)):
        form: dict[tuple[Group, Kind], tuple[float, float]] = {
            (group, "unthreshed"): (0, 1) for group in groups if group in pools and pools[group].has_heads
        }
        if not form:
            continue
        if groups == ("ground",) and "cut" in pools and pools["cut"].has_heads:
            form["cut", "unthreshed"] = (0, -1)
        return form
    return {}


def _sums(meter: _Meter, forms: Mapping[str, Form], losses: Mapping[str, Interval]) -> dict[str, Interval]:
    """Caused and total, each the sum of its reported parts."""
    sums = {}
    if "header" in forms and "machine" in forms:
        if "preharvest" in forms:
            sums["caused"] = _sum(meter, forms, losses, ("header", "machine"))
        sums["total"] = _sum(meter, forms, losses, tuple(part for part in PARTS if part in forms))
    return sums


def _sum(meter: _Meter, forms: Mapping[str, Form], losses: Mapping[str, Interval], parts: tuple[str, ...]) -> Interval:
    """Sum of parts. One that was not seen stays out of the value and lends its upper limit."""
    seen: Form = {}
    unseen = []
    for part in parts:
        if losses[part].value > 0:
            seen = _plus(seen, forms[part])
        else:
            unseen.append((1.0, losses[part]))
    found = combined([(1.0, meter.loss(seen)), *unseen])
    return Interval(max(0.0, found.value), max(0.0, found.low), found.high)


def _plus(first: Form, second: Form, sign: float = 1) -> Form:
    keys = dict.fromkeys([*first, *second])
    zero = (0.0, 0.0)
    return {
        key: (
            first.get(key, zero)[0] + sign * second.get(key, zero)[0],
            first.get(key, zero)[1] + sign * second.get(key, zero)[1],
        )
        for key in keys
    }


def _minus(first: Form, second: Form) -> Form:
    return _plus(first, second, -1)


def _dominant(losses: Mapping[str, Interval]) -> str | None:
    """Largest part, where header and machine can both be told."""
    if "header" not in losses or "machine" not in losses:
        return None
    largest = max((part for part in PARTS if part in losses), key=lambda part: losses[part].value)
    return largest if losses[largest].value > 0 else None


def _why(code: str, pools: Mapping[Group, Pool], meter: _Meter, losses: Mapping[str, Interval]) -> Message:
    if code == "machine" and "ground" in pools:
        most = meter.loss({("ground", "everything"): (0, 1)}).high
        return Message("loss.why_machine_needs_cut_ground", {"most": Quantity(most, "kg/har")})
    if code == "machine" and ("straw" in pools or "chaff" in pools):
        return Message("loss.why_one_catch")
    if code in _WHY:
        return Message(_WHY[code])
    missing = [part for part in PARTS if part not in losses and (part != "preharvest" or code == "caused")]
    return Message("loss.why_part_missing", {"parts": [Message(f"loss.{part}") for part in missing]})


def _warnings(
    pools: Mapping[Group, Pool], meter: _Meter, forms: Mapping[str, Form], signed: Mapping[str, Interval]
) -> Iterator[Message]:
    if "header" in forms and "preharvest" not in forms:
        yield Message("loss.header_includes_preharvest")
    if "header" in forms and signed["header"].high < 0:
        yield Message("loss.fewer_on_cut_ground")
    if "machine" in forms and signed["machine"].high < 0:
        yield Message("loss.fewer_behind")
    if ("ground", "everything") in forms.get("machine", {}):
        yield Message("loss.leakage")
    ways = list(_machine_forms(pools))
    for other in ways[1:]:
        gap = meter.loss(_minus(ways[0], other))
        if not gap.low <= 0 <= gap.high:
            yield Message("loss.methods_disagree")
            break
    heads = [group for group in ("straw", "chaff") if group in pools and pools[group].has_heads]
    if len(heads) == 1 and "straw" in pools and "chaff" in pools:
        yield Message("loss.unthreshed_one_catch")
    if ("ground", "unthreshed") in forms.get("threshing", {}) and ("cut", "unthreshed") not in forms["threshing"]:
        yield Message("loss.heads_from_header")
