"""The figures of the table reach the formulas, percent as shares."""

import pytest

from service.errors import UnknownName
from service.knowledge.load import load_table
from service.usecases.refinement_method import refinement_method, refinement_outcomes, usual_prices

PRICES = {"loss": 1.0, "broken": 1.0, "foreign_matter": 1.0}


@pytest.fixture(scope="module")
def figures():
    refinement = load_table().refinement
    assert refinement is not None
    return refinement.figures


def test_every_figure_is_used(figures):
    """A figure of the table that no formula sees would be an idle promise."""

    def told(figures):
        return f"{refinement_method(figures)} {refinement_outcomes(figures, PRICES)} {usual_prices(figures)}"

    elsewhere = {"moisture_scale", "pairs_asked"}  # read by those who code conditions and ask for tests
    for name in type(figures).model_fields:
        if name in elsewhere:
            continue
        changed = figures.model_copy(
            update={name: getattr(figures, name).model_copy(update={"value": getattr(figures, name).value + 1})}
        )
        assert told(changed) != told(figures), name


def test_percent_are_shares(figures):
    method = refinement_method(figures)
    assert method.contributors.largest_share == pytest.approx(figures.largest_share.value / 100)
    assert method.gate.early_probability == pytest.approx(figures.early_probability.value / 100)
    assert method.gate.least_gain == pytest.approx(figures.least_gain.value / 100)
    assert method.model.log_offset_pct == figures.log_offset.value


def test_an_outcome_without_a_price_does_not_count(figures):
    assert [one.name for one in refinement_outcomes(figures, {"loss": 2.0, "broken": 0.0})] == ["loss"]


def test_a_price_for_no_outcome_is_refused(figures):
    with pytest.raises(UnknownName):
        refinement_outcomes(figures, {"noise": 1.0})
