"""Drafts, published tables and paired tests as answers in the reader's units and language."""

import json
from collections.abc import Mapping, Sequence
from typing import Any, Final

from service.api import answers_refinement as out
from service.api.answers import Named
from service.api.reader import Reader
from service.api.showing import Showing
from service.domain.types import Message
from service.store.tables_local import LocalRevision, Refinement, RefinementDecision
from service.usecases.local_documents import canonical, contributors_band, digest_of, read_table
from service.usecases.local_types import LocalRow
from service.usecases.paired_tests import PairsAdvised
from service.usecases.refinement import DraftView

_CAUTIONS: Final = tuple(
    Message(f"caution.{code}") for code in ("machine_manual_first", "stop_before_reaching_in", "running_machine_clear")
)


def draft_tag(draft: Refinement, reader: Reader) -> str:
    """Return the ETag of a draft; its first part is what If-Match is held against."""
    return f'"{draft.number}.{draft.version}.{reader.lang}.{reader.units}"'


def present_draft(view: DraftView, reader: Reader) -> out.RefinementAnswer:
    """Return a draft."""
    show, draft = Showing(reader), view.draft
    proposed, left = _counts(draft)
    say = Message("draft.drafted" if proposed else "draft.nothing", {"proposed": proposed, "left": left})
    return out.RefinementAnswer(
        knowledge=show.knowledge(),
        say=show.note(say),
        id=draft.number,
        state=draft.state,
        version=draft.version,
        made_at=draft.made_at,
        made_by=draft.made_by,
        base_revision=draft.base_revision,
        base_digest=draft.base_digest,
        inputs_digest=digest_of(canonical(draft.inputs)),
        on_revision=draft.on_revision,
        outdated=view.outdated,
        rows=[_row(show, row, view.decisions.get(row["id"])) for row in draft.document["rows"]],
        contributors=[
            out.ContributorOut(crop=one.crop, machine_class=one.machine_class, contributor=one.pseudonym, **one.told)
            for one in view.standings_told
        ],
        cautions=show.notes(_CAUTIONS),
    )


def _counts(draft: Refinement) -> tuple[int, int]:
    rows = draft.document["rows"]
    proposed = sum(row["reason"] == "proposed" for row in rows)
    return proposed, len(rows) - proposed


def _row(show: Showing, row: Mapping[str, Any], decision: RefinementDecision | None) -> out.RowProposed:
    moved = bool(row["effects"])
    return out.RowProposed(
        id=row["id"],
        crop=_crop(show, row["crop"]),
        machine_class=_class(show, row["machine_class"]),
        moisture_band=row["moisture_band"],
        proposed=row["reason"] == "proposed",
        reason=show.note(Message(f"draft.row.{row['reason']}")),
        gain_pct=_pct(row["gain"]) if moved else None,
        gain_low_pct=_pct(row["gain_low"]) if moved else None,
        gain_high_pct=_pct(row["gain_high"]) if moved else None,
        probability_pct=_pct(row["probability"]) if moved else None,
        least_gain_without_pct=None if row["least_gain_without"] is None else _pct(row["least_gain_without"]),
        settings=[_setting(show, one) for one in row["settings"]],
        effects=[_effect(one) for one in row["effects"]],
        evidence=_evidence(row["evidence"]),
        warnings=show.notes(_warnings(show, row)),
        decision=None
        if decision is None
        else out.DecisionOut(
            decision="accept" if decision.accepted else "refuse",
            reason=decision.reason,
            by=decision.decided_by,
            at=decision.decided_at,
        ),
    )


def _warnings(show: Showing, row: Mapping[str, Any]) -> list[Message]:
    """What a reviewer should look at twice."""
    names = show.reader.table.vocabulary
    found = [Message("draft.stale", {"setting": names[one].names}) for one in row["stale"]]
    moving = [one for one in row["effects"] if one["factor"] < 1]
    if moving and row["reason"] == "proposed":
        driving = min(moving, key=lambda one: one["factor"])
        if driving["skill"] is None or driving["skill"] <= 0:
            found.append(Message("draft.no_skill", {"outcome": Message(f"outcome.{driving['outcome']}")}))
    return found


def _setting(show: Showing, one: Mapping[str, Any]) -> out.SettingProposed:
    unit = one["unit"]
    return out.SettingProposed(
        setting=one["setting"],
        name=_setting_name(show, one["setting"]),
        base=show.amount(one["base_start"], unit),
        now=show.amount(one["now"], unit),
        proposed=show.amount(one["proposed"], unit),
        low=show.amount(one["low"], unit),
        high=show.amount(one["high"], unit),
        likely_low=None if one["likely"] is None else show.amount(one["likely"][0], unit),
        likely_high=None if one["likely"] is None else show.amount(one["likely"][1], unit),
        reason=show.note(Message(f"draft.setting.{one['reason']}")),
        probability_pct=_pct(one["probability"]),
        same_day_pct=_pct(one["same_day_share"]),
        effects=[_effect(effect) for effect in one["effects"]],
    )


def _evidence(told: Mapping[str, Any]) -> out.EvidenceOut:
    band = contributors_band(told["contributors"])
    if band is None:  # of so few growers nothing is told
        return out.EvidenceOut(own=told["own"])
    if not told["own"]:
        return out.EvidenceOut(own=False, contributors=band, records=round(told["records"]))
    return out.EvidenceOut(
        own=True,
        contributors=band,
        records=round(told["records"]),
        same_day_comparisons=round(told["comparisons"]),
        largest_share_pct=_pct(told["largest_share"]),
    )


def _effect(one: Mapping[str, Any]) -> out.EffectOut:
    return out.EffectOut(
        outcome=one["outcome"],
        factor=round(one["factor"], 3),
        low=round(one["low"], 3),
        high=round(one["high"], 3),
        skill=None if one["skill"] is None else round(one["skill"], 2),
    )


def present_drafts(drafts: Sequence[Refinement], reader: Reader) -> out.RefinementsPage:
    """Return a list of drafts."""
    heads = []
    for draft in drafts:
        proposed, left = _counts(draft)
        head = out.RefinementHead(
            id=draft.number,
            state=draft.state,
            made_at=draft.made_at,
            made_by=draft.made_by,
            proposed=proposed,
            left=left,
        )
        heads.append(head)
    return out.RefinementsPage(knowledge=Showing(reader).knowledge(), items=heads)


def present_table(kept: LocalRevision, reader: Reader) -> out.TableAnswer:
    """Return a published table."""
    show, table = Showing(reader), read_table(kept.document, kept.digest)
    facts = {"organisation": table.organisation, "number": table.number, "count": len(table.rows)}
    return out.TableAnswer(
        knowledge=show.knowledge(),
        say=show.note(Message("draft.table", facts)),
        organisation=table.organisation,
        number=table.number,
        digest=table.digest,
        base_revision=table.base_revision,
        base_digest=table.base_digest,
        published_at=kept.published_at,
        repeats=kept.repeats,
        rows=[_local(show, row) for row in table.rows],
        cautions=show.notes(_CAUTIONS[:1]),
    )


def _local(show: Showing, row: LocalRow) -> out.LocalRowOut:
    effects = [out.EffectOut(outcome=one.outcome, factor=one.factor, low=one.low, high=one.high) for one in row.effects]
    return out.LocalRowOut(
        crop=_crop(show, row.crop),
        machine_class=_class(show, row.machine_class),
        moisture_band=row.moisture_band,
        setting=row.setting,
        name=_setting_name(show, row.setting),
        base=show.amount(row.base_start, row.unit),
        start=show.amount(row.start, row.unit),
        records=row.records,
        contributors=row.contributors_band,
        effects=effects,
    )


def present_history(organisation: str, kept: Sequence[LocalRevision], reader: Reader) -> out.RevisionsPage:
    """Return the list of published revisions."""
    items = [
        out.RevisionHead(
            number=one.number,
            digest=one.digest,
            published_at=one.published_at,
            base_revision=json.loads(one.document)["base_revision"],
            repeats=one.repeats,
            holds=place == 0,
        )
        for place, one in enumerate(kept)
    ]
    return out.RevisionsPage(knowledge=Showing(reader).knowledge(), organisation=organisation, items=items)


def present_pairs(found: PairsAdvised, band: str | None, reader: Reader) -> out.PairedTestsAnswer:
    """Return which settings are worth a paired test."""
    show = Showing(reader)
    cells = [cell for cell in found.cells if band in (None, cell.moisture_band)]
    best = max((test for cell in cells for test in cell.tests), key=lambda test: test.value_pct)
    facts = {
        "setting": reader.table.vocabulary[best.setting].names,
        "before": best.before,
        "after": best.after,
        "pairs": found.pairs,
    }
    return out.PairedTestsAnswer(
        knowledge=show.knowledge(),
        say=show.note(Message("draft.try", facts)),
        crop=_crop(show, found.crop),
        machine_class=_class(show, found.machine_class),
        pairs=found.pairs,
        contributors=found.contributors_band,
        bands=[
            out.PairsOfBand(
                moisture_band=cell.moisture_band,
                tests=[
                    out.PairOut(
                        setting=test.setting,
                        name=_setting_name(show, test.setting),
                        before=show.amount(test.before.value, test.before.unit),
                        after=show.amount(test.after.value, test.after.unit),
                        value_pct=round(test.value_pct, 1),
                        gain_pct=round(test.gain_pct),
                        gain_sd_pct=round(test.gain_sd_pct),
                    )
                    for test in cell.tests
                ],
            )
            for cell in cells
        ],
        cautions=show.notes(_CAUTIONS),
    )


def _crop(show: Showing, ident: str) -> Named:
    crop = show.reader.table.crops.get(ident)
    return Named(id=ident, name=ident) if crop is None else show.named(ident, crop.names)


def _class(show: Showing, ident: str) -> Named:
    return show.named(ident, show.reader.table.machine_class(ident).names)


def _setting_name(show: Showing, ident: str) -> str:
    entry = show.reader.table.vocabulary.get(ident)
    return ident if entry is None else show.name(entry.names)


def _pct(share: float) -> float:
    return round(100 * share, 1)
