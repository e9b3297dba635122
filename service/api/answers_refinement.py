"""Answers about drafts of a local table, published tables, and paired tests."""

from datetime import datetime

from pydantic import Field

from service.api.answers import Amount, Answer, Named, Note, Part

_BAND = "About how many contributors; left out where they are fewer than five."


class EffectOut(Part):
    """What a move does to one outcome, as a factor on its amount with an 80 % interval."""

    outcome: str = Field(examples=["loss", "broken", "foreign_matter"])
    factor: float
    low: float
    high: float
    skill: float | None = Field(
        None,
        description="Share of the scatter that settings explain in records of farms left out; below 0 they mislead.",
    )


class SettingProposed(Part):
    """One number of a row: the base table's, the one that holds, and the proposed one."""

    setting: str
    name: str
    base: Amount
    now: Amount
    proposed: Amount
    low: Amount = Field(description="Envelope of the base table; nothing is proposed outside it.")
    high: Amount
    likely_low: Amount | None = Field(
        None, description="From here to `likely_high` the best lies with 80 % probability, the others as proposed."
    )
    likely_high: Amount | None = None
    reason: Note
    probability_pct: float = Field(description="That the move of this setting alone makes it better.")
    same_day_pct: float = Field(description="Share of the evidence that comes from changes within one day.")
    effects: list[EffectOut] = Field(description="Of the proposed number, against the base table's.")


class EvidenceOut(Part):
    """What a row rests on."""

    own: bool = Field(description="Whether it is answered by records of its own band, or by those of all bands.")
    contributors: str | None = Field(None, description=_BAND, examples=["5-9", "10-19", "20-49", "50+"])
    records: int | None = Field(None, description="Their number, doubtful ones counted less.")
    same_day_comparisons: int | None = None
    largest_share_pct: float | None = Field(None, description="Share of the weight that one contributor has.")


class DecisionOut(Part):
    """What a reviewer decided."""

    decision: str = Field(examples=["accept", "refuse"])
    reason: str | None = None
    by: str
    at: datetime


class RowProposed(Part):
    """A row of a draft: crop, machine class and moisture band."""

    id: str
    crop: Named
    machine_class: Named
    moisture_band: str = Field(examples=["dry", "best", "damp"])
    proposed: bool
    reason: Note = Field(description="Why it is proposed, or left alone.")
    gain_pct: float | None = Field(None, description="Share of the cost that the move saves.")
    gain_low_pct: float | None = None
    gain_high_pct: float | None = None
    probability_pct: float | None = Field(None, description="That the move saves any.")
    least_gain_without_pct: float | None = Field(
        None, description="The least of the gains that are expected when one farm is left out."
    )
    settings: list[SettingProposed]
    effects: list[EffectOut] = Field(description="Of the whole move, from where the table stands.")
    evidence: EvidenceOut
    warnings: list[Note]
    decision: DecisionOut | None = None


class ContributorOut(Part):
    """How a contributor stands to the others; for the reviewer alone."""

    crop: str
    machine_class: str
    contributor: str
    records: float
    disagreement: float = Field(description="Chi-square of the contributor's records against those of the others.")
    set_aside: bool = Field(description="Whether the records were left out because they contradict all others.")


class RefinementHead(Part):
    """A draft in a list."""

    id: int = Field(description="Number of the draft in the organisation.")
    state: str = Field(examples=["open", "published"])
    made_at: datetime
    made_by: str
    proposed: int
    left: int


class RefinementAnswer(Answer):
    """A draft of a local table."""

    say: Note
    id: int = Field(description="Number of the draft in the organisation.")
    state: str = Field(examples=["open", "published"])
    version: int = Field(description="Rises with each decision; the ETag holds it.")
    made_at: datetime
    made_by: str
    base_revision: str
    base_digest: str
    inputs_digest: str = Field(description="Digest of all that the draft was made from; the same gives the same draft.")
    on_revision: int | None = Field(None, description="Local revision that the draft starts from.")
    outdated: bool = Field(description="Whether that revision, or the base table, is no longer the one that holds.")
    rows: list[RowProposed]
    contributors: list[ContributorOut]
    cautions: list[Note]


class RefinementsPage(Answer):
    """Drafts, newest first."""

    items: list[RefinementHead]


class LocalRowOut(Part):
    """One number that differs from the base table."""

    crop: Named
    machine_class: Named
    moisture_band: str | None = None
    setting: str
    name: str
    base: Amount
    start: Amount
    records: int
    contributors: str = Field(description="About how many contributors; never fewer than five.", examples=["5-9"])
    effects: list[EffectOut]


class TableAnswer(Answer):
    """A published table of an organisation."""

    say: Note
    organisation: str
    number: int
    digest: str = Field(description="Over the document as it was published.")
    base_revision: str
    base_digest: str
    published_at: datetime
    repeats: int | None = Field(None, description="Earlier revision that was published again.")
    rows: list[LocalRowOut]
    cautions: list[Note]


class RevisionHead(Part):
    """A published revision in a list."""

    number: int
    digest: str
    published_at: datetime
    base_revision: str
    repeats: int | None = None
    holds: bool


class RevisionsPage(Answer):
    """Published revisions, newest first."""

    organisation: str
    items: list[RevisionHead]


class PairOut(Part):
    """A change of one setting that is worth trying."""

    setting: str
    name: str
    before: Amount
    after: Amount
    value_pct: float = Field(description="What knowing its effect is expected to save, in percent of the cost.")
    gain_pct: float = Field(description="What the change itself is expected to save; below 0 it would cost.")
    gain_sd_pct: float = Field(description="Standard deviation of that.")


class PairsOfBand(Part):
    """Changes to try at one band of grain moisture, the most valuable first."""

    moisture_band: str = Field(examples=["dry", "best", "damp"])
    tests: list[PairOut]


class PairedTestsAnswer(Answer):
    """Which setting is worth a paired test."""

    say: Note
    crop: Named
    machine_class: Named
    pairs: int = Field(description="How many pairs one test asks for.")
    contributors: str | None = Field(None, description=_BAND, examples=["5-9"])
    bands: list[PairsOfBand]
    cautions: list[Note]
