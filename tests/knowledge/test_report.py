"""Shares of marks, counted by hand for one crop of the folder."""

from service.knowledge.report import shared_files, shares, total


def test_every_figure_of_a_crop_is_counted_once(table):
    barley = shares(table)[0]
    # code 1; damage 1; physical 10 of which bushel mass read; trade 2; window 4; targets 3
    assert barley.name == "barley"
    assert barley.counts == {
        "read": 1,
        "read_secondhand": 1,
        "memory": 0,
        "computed": 0,
        "derived": 0,
        "practice": 19,
    }
    assert barley.total == 21


def test_rows_and_responses_count_too(table):
    barley, _, wheat = shares(table)
    # 8 rows, 1 of them derived, and 2 responses
    assert wheat.total == barley.total + 10
    assert wheat.counts["derived"] == 1


def test_total_adds_up_and_shares_make_100(table):
    parts = [*shares(table), *shared_files(table)]
    whole = total(parts)
    assert whole.total == sum(part.total for part in parts)
    assert abs(sum(whole.share_pct(mark) for mark in whole.counts) - 100) < 1e-9


def test_shared_files_count_their_figures(table):
    machines, responses = shared_files(table)
    # 8 defaults of 11 figures, 4 of specific, 3 sieves, 2 power models, 8 of driving
    assert machines.total == 8 * 11 + 4 + 3 + 2 + 8
    # 4 responses, 1 rule, 2 lines of the checklist
    assert responses.total == 7


def test_nothing_has_no_share():
    assert total([]).share_pct("read") == 0
