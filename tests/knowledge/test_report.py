"""Shares of marks, counted by hand for one crop of the folder."""

from service.knowledge.monitor import FIGURE_UNITS
from service.knowledge.report import shared_files, shares, total
from tests.knowledge.conftest import figure


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
    machines, responses, economics, influence, hauling = shared_files(table)
    # 8 defaults of 11 figures, 4 of specific, 3 sieves, 2 power models, 8 of driving
    assert machines.total == 8 * 11 + 4 + 3 + 2 + 8
    # 4 responses, 1 rule, 2 lines of the checklist
    assert responses.total == 7
    # 9 of machine cost, 3 of speed, 1 crop's delay
    assert economics.total == 9 + 3 + 1
    # 9 of the method, 1 of what is unrelated, 5 levers, 2 outcomes, 2 effects, a second sign, a mistake, 5 wishes
    assert influence.total == 9 + 1 + 5 + 2 + 2 + 1 + 1 + 5
    # 13 figures, 1 finding
    assert hauling.total == 13 + 1


def test_a_folder_with_loss_monitors_counts_them_too(book):
    figures = {name: figure(5, unit) for name, unit in FIGURE_UNITS.items()}
    book.files["loss_monitor.toml"] = {"figures": figures, "finding": [], "redo": []}
    found = {one.name: one.total for one in shared_files(book.write().load())}
    assert found["loss monitor"] == len(FIGURE_UNITS)


def test_nothing_has_no_share():
    assert total([]).share_pct("read") == 0
