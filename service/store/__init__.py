"""The store: organisations, their contributors and keys, what they reported, and what was done.

Inside: tables, migrations, transactions, and every SQL statement of the service. Outside: who may do
what, and what a record means (`usecases`). Embedded it is one SQLite file in WAL mode, shared it is
PostgreSQL; both have the same tables, made by the same migrations, and the same tests.

    with store.writing() as session:      # one transaction; left without an error it is committed
        organisations.add_member(session, ...)

An answer to a client is sent after that block: acknowledged means committed.

Row layout
==========
Times are UTC with their zone, numbers are metric with the unit in the name, `id` of a feedback record
is a UUIDv7 (RFC 9562), so that it rises with the time of arrival; all other `id` are whole numbers.

organisation    one co-op. `season_starts_month`: a season carries the year in which it began.
member          one contributor: `pseudonym` is all that is known of a person. Erasing deletes the row,
                and `ON DELETE CASCADE` everything that hangs on it. A table that keeps sums by
                contributor takes part by the same foreign key (organisation_id, member_id).
api_key         `prefix` finds it, `secret_sha256` proves it. Without `member_id` it speaks for the
                organisation and names the contributor of each record.
feedback        one record = one contributor, machine, field, state of the settings, and what came of it.
    session_key       machine, field, local day (and group): rows of one (organisation_id, member_id,
                      session_key) are same-day neighbours; conditions cancel between them.
    season            year of the season of `observed_on`; statistics are kept by season.
    crop, machine_class, moisture_band, grain_moisture_pct, yield_t_ha, straw_*, slope_*, stand, use_for,
    priority          conditions, one column each; `conditions` holds the whole question as it was asked,
                      so that the advice can be worked out again.
    settings          {"threshing_speed": 24.5, ...} as far as told, metric by the vocabulary. What a
                      later row of a session leaves out stands as in the row before it by `observed_at`
                      (`feedback.session_rows` fills that in).
    base              starts and envelopes of the base table for these conditions, with the digest of what they
                      were worked out from, so that settings can be coded without asking the table again.
    suggested         the same form: what the contributor was shown; `suggested_from` is `told`, or
                      `computed` from the table where only its revision was named.
    advice, advice_revision, trial_arm (base, refined, step_test), trial_randomised
    machine_loss_pct, header_loss_pct, broken_pct, foreign_matter_pct, grain_throughput_t_h, returns_level
                      outcomes, each NULL where it was not measured. Losses are percent of all that
                      grew, *_low_pct and *_high_pct their 95 % interval where frames gave one, and
                      `loss_method` says how they were found. `rating` and `note` are for people.
    latitude_deg, longitude_deg     rounded to about a kilometre before they come here.
    knowledge_revision, knowledge_digest     table that units and losses were worked out with.
withdrawal      a record that was taken back: its id, contributor, session and season, nothing else. Sums
                that hold such a record are built anew for its (member, season).
idempotency     answers by idempotency key: the unique (organisation_id, key) is what keeps a retry from
                doubling a record, on either database and at any isolation level. It goes with its member.
cell_sums       sums over records (`refinement_types.CellStatistics`) by contributor, machine, cell, outcome and
                season: doubles, little-endian. They go with their contributor.
cell_coding     digest of the part of the base table that the sums of a crop and class are coded against; when
                it changes, they are made anew from the records.
fold_state      records up to `folded_upto` are in the sums.
rebuild         contributor and season whose sums hold a record that was taken back: made anew by the next fold.
cell_belief     what was believed when records were weighed: means, covariances, scatter, as doubles.
record_weight   weights below 1 of a record; it keeps them for ever, so that sums can be made anew exactly.
refinement      a draft: `inputs` is all it was made from but the sums, which stand in refinement_evidence by
                contributor (and go with the contributor); `document` is what it proposes; `version` rises with
                each decision and is what If-Match speaks of.
refinement_decision     one row of a draft accepted or refused.
local_revision  published tables, numbered from 1 in each organisation; the newest one holds. `document` is the
                canonical JSON that `digest` is made of; triggers refuse to change or delete it. `repeats` is the
                number of the earlier revision that was published again.
audit_event     who did what; triggers refuse to change or delete a line.

Records are never changed: they are added, and deleted by withdrawal or erasure. Ids rise with arrival,
but a transaction may commit after one that began later: who folds by id leaves sessions alone until
they are a day old.
"""

from sqlalchemy.orm import Session

from service.store import tables_local  # its tables must be known whichever module is loaded first
from service.store.engine import Store, open_store

__all__ = ["Session", "Store", "open_store", "tables_local"]
