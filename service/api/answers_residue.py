"""Answers on straw and chaff behind the machine. Right is positive, seen in the direction of travel."""

from pydantic import Field

from service.api.answers import Amount, Answer, Estimate, Evidence, Named, Note, Part, Reference


class EvennessOut(Part):
    """How even readings are."""

    variation: Amount = Field(description="Coefficient of variation, with n - 1.")
    christiansen: Amount = Field(description="Christiansen's coefficient of uniformity.")
    max_to_min: Amount | None = Field(None, description="Greatest over least; left out where a place got nothing.")
    deviation_index: Amount = Field(description="Half the mean deviation over the mean: 0 even, near 0.5 a strip.")


class MaterialOut(Part):
    """One material as the trays found it: one pass, still air. Shares are of its mass."""

    code: str = Field(examples=["residue", "straw", "chaff"])
    name: str
    share: Amount = Field(description="Of straw and chaff together.")
    evenness: EvennessOut = Field(description="Over the trays inside the cut, before overlap.")
    left: Amount
    right: Amount
    centre: Amount = Field(description="Centre of mass from the middle of the cut.")
    width: Amount = Field(description="Between the outermost places with half the even layer.")
    width_share: Amount = Field(description="That width over the cut width.")
    coverage: Amount = Field(description="Part of the cut with at least half the even layer.")
    past_left: Amount = Field(description="Thrown past the left edge of the cut.")
    past_right: Amount
    standing_crop: Amount | None = Field(None, description="Thrown into standing crop.")
    gap_left: Amount = Field(description="Strip at the left edge of the cut with less than half the even layer.")
    gap_right: Amount
    layer: Amount | None = Field(None, description="Mean over the cut, if the area of a tray was given.")


class SwathOverlapOut(Part):
    """What lies on the field in still air where passes lie side by side."""

    code: str = Field(examples=["back_and_forth", "round_and_round"])
    name: str
    spacing: Amount
    evenness: EvennessOut = Field(
        description="At places that lie as the trays do, as spreader tests define it; see `at_trays`."
    )
    at_trays: bool = Field(
        description="False where the trays lie at unequal distances: then along the lines between them."
    )
    variation_between: Amount = Field(
        description="Coefficient of variation along the straight lines between the trays, as in the chart."
    )
    level: str = Field(description="Of the larger variation.", examples=["good", "watch", "poor"])


class SpreadVerdictOut(Part):
    """A figure against its band."""

    code: str = Field(examples=["evenness", "no_till_ratio", "coverage", "standing_crop"])
    level: str = Field(examples=["good", "watch", "poor"])
    text: str
    value: Amount | None = Field(None, description="Left out where a place got nothing, so that there is no ratio.")
    good: Amount = Field(description="Where the good band ends.")
    evidence: Evidence


class OutlookOut(Part):
    """How it lies on the field with a setting, in this wind and on this slope."""

    variation: Amount = Field(
        description="Coefficient of variation after overlap: at places that lie as the trays do, or along the lines "
        "between them where that is larger."
    )
    variation_between: Amount = Field(
        description="The same along the lines alone, by which changes are compared: they move the layer, not the trays."
    )
    standing_crop: Amount | None = Field(None, description="Share thrown into standing crop, mean of both passes.")
    right: Amount = Field(description="Share on the right-hand side of this pass.")
    score: Amount = Field(description="Points of `variation_between` and of what lies off the cut; less is better.")


class SpreadCorrectionOut(Part):
    """One change, and the pattern expected from it. Patterns are relative: 1 is the even layer."""

    code: str = Field(examples=["lateral_offset", "throw_further", "left_outward"])
    text: str
    change: Amount | None = Field(None, description="Of the offset; left is negative.")
    offset: Amount | None = Field(None, description="Offset after the change; 0 is neutral.")
    step: Amount | None = Field(None, description="Of throw in percent, of blades or fan in degrees.")
    gain: Amount = Field(description="Points of score.")
    outlook: OutlookOut
    after_turn: str | None = Field(
        None, description="What to do with the setting after the headland turn.", examples=["mirror", "keep", "change"]
    )
    after_turn_text: str | None = None
    return_offset: Amount | None = Field(None, description="Offset on the way back.")
    pattern: list[float] = Field(description="Layer at each of `places`, this pass, in this wind.")
    return_pattern: list[float] | None = Field(
        None, description="The same on the way back, seen in its own direction of travel."
    )


class SpreadPlaceOut(Part):
    """One place across the travel."""

    position: Amount
    measured: Amount = Field(description="Layer that the trays found; 1 is the even layer.")
    now: Amount = Field(description="Layer with nothing changed, in this wind and on this slope.")


class ResidueFlightOut(Part):
    """How a material flies; calibrated on its still-air pattern."""

    code: str = Field(examples=["straw", "chaff"])
    name: str
    lone_fall_speed: Amount = Field(description="Terminal velocity of a lone piece.")
    fall_speed: Amount = Field(description="The same as the stream shows it.")
    discharge_speed: Amount = Field(description="Speed that goes with the trays.")
    told_discharge_speed: Amount | None = Field(
        None, description="The one that was told, where it does not go with the trays."
    )
    lone_reach: Amount = Field(description="How far a lone piece would fly at the speed told or assumed.")
    reach: Amount = Field(description="How far the trays say.")
    adapted: str = Field(examples=["drag", "slower", "faster"])
    shift: Estimate = Field(
        description="By wind and slope: the middle, and as ends the stream that goes with the trays, lone pieces and "
        "a told discharge speed."
    )
    evidence: Evidence


class WindLimitOut(Part):
    """Crosswind from which on no offset keeps the spread: the careful end first."""

    wind_from: str = Field(examples=["left", "right"])
    wind: Estimate | None = Field(
        None,
        description="Value and low: if all of it drifts as far as it may; high: as little, left out if not reached. "
        "Left out if it is not reached up to `looked_up_to`.",
    )
    looked_up_to: Amount


class SpreadAirOut(Part):
    """Wind and slope."""

    crosswind: Amount
    slope_across: Amount
    shift: Estimate = Field(description="Of straw and chaff together; ends as in `flights`.")
    throw_more: str = Field(description="Side to throw more to.", examples=["left", "right", "neither"])
    offset_change: Amount = Field(description="How much, as change of the offset; left is negative.")
    limits: list[WindLimitOut]
    flights: list[ResidueFlightOut]


class ResidueSpreadAnswer(Answer):
    """How even the residue lies, and what to change."""

    crop: Named
    decision: Note
    driving: str
    cut_width: Amount
    spacing: Amount
    materials: list[MaterialOut]
    verdicts: list[SpreadVerdictOut]
    overlaps: list[SwathOverlapOut]
    air: SpreadAirOut
    now: OutlookOut
    best: str | None = Field(None, description="Code of the change that is advised.")
    corrections: list[SpreadCorrectionOut]
    throw_wanted: Amount = Field(
        description="Change of the distance of throw that is wanted with the offset set: the least that is good enough."
    )
    offset_range: Amount = Field(description="How far the offset was allowed to go to either side.")
    places: list[SpreadPlaceOut]
    warnings: list[Note]
    cautions: list[Note]
    evidence: list[Evidence] = Field(description="Figures of the table behind the whole answer.")
    sources: list[Reference] = Field(description="Every source that is cited above.")


class ResidueMassOut(Part):
    """A mass per area."""

    dry: Estimate = Field(description="Dry matter.")
    as_is: Estimate | None = Field(None, description="As it is, if the moisture of straw was given.")


class ResidueLineOut(Part):
    """Above-ground residue by a line over yield."""

    kind: str | None = Field(None, examples=["winter", "spring"])
    above_ground: ResidueMassOut
    evidence: Evidence


class ResidueAmountAnswer(Answer):
    """How much straw and chaff there is."""

    crop: Named
    summary: Note
    grain: Amount = Field(description="Dry matter of the yield.")
    grain_moisture: Amount
    moisture_origin: str = Field(examples=["request", "table"])
    by_yield: list[ResidueLineOut] = Field(description="Everything above ground but the grain, stubble included.")
    above_ground: ResidueMassOut = Field(description="The same by the ratios.")
    straw: ResidueMassOut = Field(description="Stubble included, chaff not.")
    chaff: ResidueMassOut
    through_machine: ResidueMassOut
    stubble: ResidueMassOut
    chaff_share: Amount = Field(description="Of what goes through the machine.")
    strip_load: ResidueMassOut | None = Field(None, description="On the strip where it is laid down.")
    strip_factor: Amount | None = None
    cover: Estimate | None = Field(None, description="Ground covered by what went through the machine, if even.")
    cover_evidence: Evidence | None = None
    warnings: list[Note]
    cautions: list[Note]
    evidence: list[Evidence]
    sources: list[Reference] = Field(description="Every source that is cited above.")
