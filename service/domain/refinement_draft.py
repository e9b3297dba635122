"""What a draft of a local table says of each row, and why a row is left alone.

Inside: records alone. Outside: how they come about (`refinement_proposal`).
"""

from dataclasses import dataclass
from typing import Literal

CellReason = Literal[
    "proposed",
    "too_few_contributors",
    "too_few_records",
    "contributors_disagree",
    "nothing_better",
    "not_sure",
    "gain_too_small",
    "rests_on_one_contributor",
]
SettingReason = Literal["moved", "largest_move", "envelope_end", "stays", "not_sure", "row_left"]


@dataclass(frozen=True, slots=True)
class SettingDraft:
    """One number of a row, coded: where it stands, what is proposed, and why.

    Attributes
    ----------
    setting : str
        Its name.
    now, proposed : float
        Half envelopes from the start of the base table.
    reason : str
        `moved`; `largest_move` or `envelope_end` where it was stopped there; `stays` where nothing is
        better; `not_sure` where the move was dropped; `row_left`.
    probability : float
        That its own move makes it better; 1 where none was wanted.
    same_day_share : float
        Share of the evidence on it that comes from changes within one day.
    choice : float
        What operators' choices seem to add to the slope of the log cost between days.
    likely : tuple of float or None
        Where the cost is least with 80 % probability, the others as wanted; None where nothing is told.
    """

    setting: str
    now: float
    proposed: float
    reason: SettingReason
    probability: float
    same_day_share: float
    choice: float
    likely: tuple[float, float] | None


@dataclass(frozen=True, slots=True)
class OutcomeEffect:
    """What the move does to one outcome: factor on it with its 80 % interval, and held-out skill."""

    outcome: str
    factor: float
    factor_low: float
    factor_high: float
    skill: float | None


@dataclass(frozen=True, slots=True)
class Evidence:
    """What a row rests on.

    Attributes
    ----------
    own : bool
        Whether the cell is answered by its own records and not by all cells.
    contributors : int
        With records in the cell, those set aside not among them.
    records : float
        Their weight, gross errors hardly counted.
    sessions : float
        Days on a field, those of earlier seasons with less weight.
    comparisons : float
        Weighted number of comparisons within a day.
    largest_share : float
        Of the weight that one contributor has after the cap.
    """

    own: bool
    contributors: int
    records: float
    sessions: float
    comparisons: float
    largest_share: float


@dataclass(frozen=True, slots=True)
class CellDraft:
    """A row of the draft.

    Attributes
    ----------
    cell : str
        Its name.
    reason : str
        `proposed`, or why it is left alone.
    settings : tuple of SettingDraft
        One for each setting.
    effects : tuple of OutcomeEffect
        Of the move that was wanted, also where the row is left alone; empty where there is none.
    gain, gain_low, gain_high : float
        Share of the cost that the move saves, with an 80 % interval.
    probability : float
        That it saves any.
    least_gain_without : float or None
        The least of the gains expected when one contributor is left out.
    least_probability_without : float or None
        The least of the probabilities to be better when one is left out.
    evidence : Evidence
        What it rests on.
    """

    cell: str
    reason: CellReason
    settings: tuple[SettingDraft, ...]
    effects: tuple[OutcomeEffect, ...]
    gain: float
    gain_low: float
    gain_high: float
    probability: float
    least_gain_without: float | None
    least_probability_without: float | None
    evidence: Evidence


@dataclass(frozen=True, slots=True)
class ContributorStanding:
    """How one contributor stands, for the reviewer of the same organisation alone."""

    contributor: str
    records: float
    disagreement: float
    set_aside: bool


@dataclass(frozen=True, slots=True)
class Draft:
    """Proposals for every row, with what is needed to make the same draft again.

    Attributes
    ----------
    statistics : str
        Digest of the sums it was made from.
    number : int
        Of the draft; seeds the draws.
    cells : tuple of CellDraft
        In the order of the fit.
    contributors : tuple of ContributorStanding
        By name.
    skill : tuple of float or None
        Held-out skill of each outcome over all cells.
    noise_log_sd : tuple of float
        Scatter of one reading of each outcome, as found.
    """

    statistics: str
    number: int
    cells: tuple[CellDraft, ...]
    contributors: tuple[ContributorStanding, ...]
    skill: tuple[float | None, ...]
    noise_log_sd: tuple[float, ...]
