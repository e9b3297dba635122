"""What a next-adjustment request may hold: the fields of starting settings, and what is wrong now.

Inside: the request and its parts. Outside: the kinds of field (`fields`), bounds (`limits`), turning a
request into a question (`questions_adjustment`). Which names there are is the knowledge table's to say;
those written here are examples.
"""

from typing import Annotated, Literal

from pydantic import Field

from service.api.fields import Given, Name, Number, Whole
from service.api.requests import RequestModel, StartingSettingsRequest

_SETTINGS = [
    "threshing_speed",
    "concave_clearance_inlet",
    "concave_clearance_outlet",
    "concave_clearance",
    "separation_rotor_speed",
    "cleaning_air_speed",
    "upper_sieve_opening",
    "lower_sieve_opening",
    "sieve_rear_opening",
    "reel_index",
    "cutting_height",
    "ground_speed",
]
_UNITS = "Its metric unit or that of the United States as a UCUM code, or `{rev}/min` for a drum, rotor or fan in rpm."
_UNIT_EXAMPLES = ["m/s", "mm", "km/h", "cm", "1", "[ft_i]/min", "[in_i]", "[mi_i]/h", "{rev}/min"]


class CurrentSettingRequest(RequestModel):
    """Where a setting stands."""

    setting: Annotated[str, Name()] = Field(
        description="Setting by id, as in the answer to starting settings.", examples=_SETTINGS
    )
    value: Annotated[float, Number("value")] = Field(description="Where it stands, in `unit`.", examples=[27.5])
    unit: Annotated[str, Name(20)] = Field(description=_UNITS, examples=_UNIT_EXAMPLES)


class SymptomRequest(RequestModel):
    """Something that a person sees, and how bad it is."""

    symptom: Annotated[str, Name()] = Field(
        description="What is seen.",
        examples=[
            "unthreshed",
            "cracked",
            "separation_loss",
            "cleaning_loss",
            "header_loss",
            "dirty_chaff",
            "dirty_straw",
            "dirty_pods",
            "dirty_heads",
            "returns_overload",
            "returns_grain",
            "straw_broken",
            "uneven_feeding",
            "plugging",
            "power_high",
        ],
    )
    severity: Annotated[int, Whole("severity")] = Field(
        description="0 looked for and absent, 1 seen but acceptable, 2 more than acceptable, 5 unbearable.",
        examples=[3],
    )
    tell_tale: Annotated[str | None, Name()] = Field(
        None,
        description="A second sign that says which cause is behind the symptom.",
        examples=[
            "heads_in_straw_grain_sound",
            "one_side_or_worn_bars",
            "thin_crop_unthreshed",
            "heads_in_returns",
            "clean_grain_in_returns",
            "returns_normal",
            "smeared_or_crushed",
            "light_crop_low_load",
            "augers_half_full",
            "straw_green_or_damp",
            "straw_short_and_broken",
            "thick_mat_on_sieve",
            "sieve_bare_grain_far_behind",
            "one_side_on_slope",
            "much_fine_straw_on_sieve",
            "light_chaff",
            "white_caps",
            "green_bits_and_stems",
            "returns_mostly_grain",
            "returns_mostly_heads",
            "returns_mostly_chaff",
            "rotor_growls_straw_tough",
            "seed_on_ground_ahead_of_wheels",
            "bunches_at_the_knife",
            "tall_uneven_stubble",
            "heads_left_on_stubble",
        ],
    )


class MeasuredRequest(RequestModel):
    """Losses in percent of the yield, and parts of a sample from the tank in percent of its mass."""

    unthreshed_pct: Annotated[float | None, Number("unthreshed_pct")] = Field(
        None, description="Loss in heads or pods that were not threshed, of the yield."
    )
    separation_loss_pct: Annotated[float | None, Number("separation_loss_pct")] = Field(
        None, description="Free grain in the straw, of the yield."
    )
    cleaning_loss_pct: Annotated[float | None, Number("cleaning_loss_pct")] = Field(
        None, description="Grain over the sieves, of the yield."
    )
    header_loss_pct: Annotated[float | None, Number("header_loss_pct")] = Field(
        None, description="Loss at the header, of the yield."
    )
    broken_pct: Annotated[float | None, Number("broken_pct")] = Field(
        None, description="Broken and cracked kernels, of the sample."
    )
    chaff_pct: Annotated[float | None, Number("chaff_pct")] = Field(None, description="Chaff, of the sample.")
    straw_pct: Annotated[float | None, Number("straw_pct")] = Field(None, description="Straw, of the sample.")
    pods_pct: Annotated[float | None, Number("pods_pct")] = Field(None, description="Pods, of the sample.")
    heads_pct: Annotated[float | None, Number("heads_pct")] = Field(
        None, description="Heads and kernels in their glumes, of the sample."
    )
    foreign_matter_pct: Annotated[float | None, Number("foreign_matter_pct")] = Field(
        None, description="All that is no grain, of the sample, where its kinds were not weighed apart."
    )


class PastChangeRequest(RequestModel):
    """A change that was tried. Say its effect, or what was measured or seen before and after."""

    setting: Annotated[str, Name()] = Field(
        description="Setting by id; not one that moves along with another.", examples=_SETTINGS
    )
    from_value: Annotated[float, Number("from_value")] = Field(
        description="Where it stood before, in `unit`.", examples=[28.9]
    )
    to_value: Annotated[float, Number("to_value")] = Field(description="Where it was put, in `unit`.", examples=[27.5])
    unit: Annotated[str, Name(20)] = Field(description=_UNITS, examples=_UNIT_EXAMPLES)
    effect: Annotated[Literal["better", "same", "worse"] | None, Given()] = Field(
        None, description="How it went, all in all. Without it, figures or grades of both times decide."
    )
    measured_before: Annotated[MeasuredRequest | None, Given()] = Field(
        None, description="What was measured before the change."
    )
    measured_after: Annotated[MeasuredRequest | None, Given()] = Field(
        None, description="What was measured after the change."
    )
    symptoms_before: list[SymptomRequest] = Field([], max_length=20, description="What was seen before the change.")
    symptoms_after: list[SymptomRequest] = Field([], max_length=20, description="What was seen after the change.")


class NextAdjustmentRequest(StartingSettingsRequest):
    """Crop, field and machine as for starting settings; where the settings stand, what is wrong, what was tried."""

    current_settings: list[CurrentSettingRequest] = Field(
        [],
        max_length=20,
        description="Where the settings stand, each once. One that is left out is taken at the table's start.",
    )
    symptoms: list[SymptomRequest] = Field([], max_length=20, description="What is wrong, by eye.")
    measured: Annotated[MeasuredRequest | None, Given()] = Field(
        None, description="What was measured; a figure counts more than a grade."
    )
    checks_done: list[Annotated[str, Name()]] = Field(
        [],
        max_length=20,
        description="Operating mistakes that were ruled out, by the codes of `checks` in an answer.",
        examples=[["wrong_concave", "worn_or_blocked_parts"]],
    )
    history: list[PastChangeRequest] = Field(
        [], max_length=40, description="Changes already tried in this crop and on this machine, oldest first."
    )
