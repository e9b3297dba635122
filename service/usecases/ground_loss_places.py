"""Which loss follows from which frames, and how sure it is.

Inside: which pooled densities enter each loss with which weights, losses as people can read them, what
cannot be told and why. Outside: pooling (`ground_loss_frames`), the weighted sum and its limits
(`domain.losses`), percent, money and verdicts (`ground_loss`).
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final

from service.domain.intervals import combined
from service.domain.kernel_counts import kernel_loss_kg_ha
from service.domain.losses import Weighted, ground_loss_kg_ha
from service.domain.sampling import garwood_interval
from service.domain.types import Interval, Message, Quantity
from service.usecases.ground_loss_frames import Ground, Group, Kind, Pool
from service.usecases.ground_loss_terms import Terms
from service.usecases.loss_types import NotMeasured

# how a pooled density enters a loss: weight as it lies, weight where gathered into the strip
Form = Mapping[tuple[Group, Kind], tuple[float, float]]
_ON_CUT_GROUND: Final[Form] = {("cut", "everything"): (1, 0)}
_IN_THE_STRIP: Final[Form] = {("ground", "everything"): (0, 1)}
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
        counted: list[Weighted] = []
        weighed: list[Weighted] = []
        for (group, kind), (a, b) in form.items():
            density = self.pools[group].densities[kind]
            (counted if density.counted else weighed).append((a, b, density.limits))
        return ground_loss_kg_ha(counted, weighed, self.strip, self.kernel_mass_g)

    def reported(self, form: Form, signed: Interval) -> Interval:
        """Loss that people can read: at least zero, and where it is zero, a limit that is not."""
        if signed.value > 0:
            return Interval(signed.value, max(0.0, signed.low), signed.high)
        return Interval(0.0, 0.0, max(signed.high, self._unseen(form)))

    def _unseen(self, form: Form) -> float:
        """Upper limit had the frames that speak for this loss held no kernel at all."""
        none = garwood_interval(0).high
        return max(
            (a + b * self.strip.value) * kernel_loss_kg_ha(none / self.pools[group].area_m2, self.kernel_mass_g.value)
            for (group, _), (a, b) in form.items()
            if a + b > 0
        )


def _forms(pools: Mapping[Group, Pool]) -> dict[str, Form]:
    """Every loss that these pools can tell, sums left out."""
    forms: dict[str, Form] = {}
    standing: Form = {("standing", "everything"): (1, 0)} if "standing" in pools else {}
    if standing:
        forms["preharvest"] = standing
    if "cut" in pools:
        forms["header"] = _minus(_ON_CUT_GROUND, standing)
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
        yield {**_IN_THE_STRIP, ("cut", "everything"): (0, -1)}


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
    """Caused and total where header and machine can be told; total alone where the strip is the whole cut."""
    sums = {}
    if "header" in forms and "machine" in forms:
        if "preharvest" in forms:
            sums["caused"] = _caused(meter, forms, losses)
        sums["total"] = _total(meter, forms["machine"], losses["machine"])
    elif "ground" in meter.pools and meter.strip.value == 1:
        sums["total"] = meter.reported(_IN_THE_STRIP, meter.loss(_IN_THE_STRIP))
    return sums


def _caused(meter: _Meter, forms: Mapping[str, Form], losses: Mapping[str, Interval]) -> Interval:
    """Header and machine. One that was not seen stays out of the value and lends its upper limit."""
    seen: Form = {}
    unseen = []
    for part in ("header", "machine"):
        if losses[part].value > 0:
            seen = _plus(seen, forms[part])
        else:
            unseen.append((1.0, losses[part]))
    found = combined([(1.0, meter.loss(seen)), *unseen])
    return Interval(max(0.0, found.value), max(0.0, found.low), found.high)


def _total(meter: _Meter, form: Form, machine: Interval) -> Interval:
    """What lies on cut ground and what the machine added to it.

    Not the sum of the parts: what fell before harvest lies on cut ground too, whatever the standing crop
    showed, and the limits of three parts together would be wider than those of the two densities.
    """
    if machine.value > 0:
        whole = _plus(_ON_CUT_GROUND, form)
        return meter.reported(whole, meter.loss(whole))
    found = combined([(1.0, meter.loss(_ON_CUT_GROUND)), (1.0, machine)])
    return Interval(found.value, max(0.0, found.low), found.high)


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
        most = meter.loss(_IN_THE_STRIP).high
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
    if "header" in forms and signed["header"].value < 0:
        yield Message("loss.standing_above_cut")
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
