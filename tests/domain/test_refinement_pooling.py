"""Equations and pooling against dense algebra, and against tables that others printed.

Expected values: generalised least squares and the joint posterior with dense matrices; eight schools
(Rubin 1981; posterior means of the stan-dev posterior database); batting averages (Efron and Morris 1975,
1977); ChemReact (Myers, Montgomery and Anderson-Cook 2009, table 7.6, stationary point as in the vignette
of the R package rsm, Lenth 2009); Norris and Pontius of the Statistical Reference Datasets (NIST);
Dyestuff (Davies 1947, best linear unbiased predictions from the REML components that lme4 prints).
"""

import math
from dataclasses import replace

import numpy as np
import pytest

from service.domain.refinement_agreement import Setup, left_out, sides
from service.domain.refinement_coding import features
from service.domain.refinement_equations import Equations, equations
from service.domain.refinement_fit import fit
from service.domain.refinement_pooling import Belief, Sides, TreePrior, pooled, tree_prior
from service.domain.refinement_statistics import accumulate
from service.domain.refinement_sums import without_contributor
from service.domain.refinement_types import Layout, Records, Spread
from service.errors import OutOfRange, UnknownName
from tests.domain.refinement_cases import CELLS, LAYOUT, METHOD, NAMES, OUTCOMES, drawn, learnt, sums

FINE = 2.0**-44  # for published sums of a few dozen numbers


def of(records: Records, ratio: float = METHOD.model.contributor_ratio) -> Equations:
    return equations(sums(records), CELLS, NAMES, ratio)


class TestAgainstDenseAlgebra:
    def test_equations_are_generalised_least_squares_of_nested_levels(self) -> None:
        records = replace(drawn(1, 120, missing=0.0), season=np.zeros(120, dtype=int))
        found, last = of(records), LAYOUT.features
        for row, (g, c, o) in enumerate(zip(found.contributor, found.cell, found.outcome, strict=True)):
            name = records.contributors.index(found.contributors[g])
            own = (records.contributor == name) & (records.cell == c)
            left, right = np.zeros((last, last)), np.zeros(last)
            for machine in range(2):
                of_one = own & (records.machine == machine)
                x, y, day = records.features[of_one], records.log_amounts[of_one, o], records.session[of_one]
                covariance = np.eye(len(y)) + 0.5 * (day[:, None] == day) + 0.5
                left += x.T @ np.linalg.solve(covariance, x)
                right += x.T @ np.linalg.solve(covariance, y)
            assert found.information[row, :last, :last] == pytest.approx(left, abs=1e-6)
            assert found.pull[row, :last] == pytest.approx(right, abs=1e-6)

    def test_a_choice_is_seen_between_days_only(self) -> None:
        records = drawn(2, 120)
        # only changes within days: without differences between days nothing is told of choices
        records = replace(records, contributor=records.session, contributors=tuple(f"g{k:03}" for k in range(60)))
        found = of(records, ratio=1e12)
        assert found.information[:, LAYOUT.choices] == pytest.approx(0, abs=1e-6)
        assert np.abs(found.information[:, LAYOUT.slopes, LAYOUT.slopes]).max() > 0.01

    def test_two_passes_are_the_joint_posterior(self) -> None:
        fitted = learnt(drawn(3))
        setup, trust = fitted.setup, fitted.standing.trust
        both, prior = sides(setup, trust), setup.prior
        found, count = pooled(both, prior), LAYOUT.coefficients
        for o in range(len(NAMES)):
            mean, covariance = joint(both, prior, o)
            for c in range(len(CELLS)):
                at = slice((c + 1) * count, (c + 2) * count)
                assert found.cells.mean[c, o] == pytest.approx(mean[at], abs=1e-10)
                assert found.cells.covariance[c, o] == pytest.approx(covariance[at, at], abs=1e-10)
            assert found.shared.mean[o] == pytest.approx(mean[:count], abs=1e-10)
            assert found.shared.covariance[o] == pytest.approx(covariance[:count, :count], abs=1e-10)

    def test_beliefs_without_a_contributor_are_those_of_a_fit_without_him(self) -> None:
        records = replace(drawn(4), season=np.zeros(240, dtype=int))
        fitted = learnt(records)
        setup, found = fitted.setup, left_out(fitted.setup, np.ones((8, 3)))
        for g, name in enumerate(setup.equations.contributors):
            rest = equations(without_contributor(sums(records), name), CELLS, NAMES, 0.5)
            other = Setup(rest, LAYOUT, setup.prior, setup.noise_variance, 0.5)
            belief = pooled(sides(other, np.ones((7, 3))), setup.prior)
            rows = setup.equations.contributor == g
            at = setup.equations.cell[rows], setup.equations.outcome[rows]
            assert found.mean[rows] == pytest.approx(belief.cells.mean[at], abs=1e-9)
            assert found.shared.mean[g] == pytest.approx(belief.shared.mean, abs=1e-9)

    def test_a_cell_with_a_great_many_records_keeps_its_message_exact(self) -> None:
        prior = TreePrior(np.zeros((1, 1)), np.zeros(1), np.array([0.04]))
        # one cell known to 1e-12, one not at all: the second is the first with the spread of cells twice
        found = pooled(Sides(np.array([[[[1e12]]], [[[0.0]]]]), np.array([[[3e12]], [[0.0]]])), prior)
        assert found.cells.mean[1, 0, 0] == pytest.approx(3.0, rel=1e-9)
        assert found.cells.covariance[1, 0, 0, 0] == pytest.approx(0.08, rel=1e-9)


def joint(both: Sides, prior: TreePrior, outcome: int) -> tuple[np.ndarray, np.ndarray]:
    """Posterior of what all share and of every cell, as one dense problem."""
    count = LAYOUT.coefficients
    precision = np.zeros(((len(CELLS) + 1) * count,) * 2)
    right = np.zeros(len(precision))
    whole, own = slice(0, count), np.diag(1 / prior.cell_variance)
    precision[whole, whole] = np.diag(prior.precision)
    right[whole] = prior.precision * prior.mean[outcome]
    for c in range(len(CELLS)):
        at = slice((c + 1) * count, (c + 2) * count)
        precision[whole, whole] += own
        precision[at, at] = own + both.left[c, outcome]
        precision[whole, at] = precision[at, whole] = -own
        right[at] = both.right[c, outcome]
    covariance = np.linalg.inv(precision)
    return covariance @ right, covariance


# Rubin, D. B. (1981), Estimation in parallel randomized experiments, Journal of Educational Statistics 6
SCHOOLS = np.array([28, 8, -3, 7, -1, 1, 18, 12.0])
ERRORS = np.array([15, 10, 16, 11, 9, 11, 10, 18.0])


def schools(spread: float, precision: float = 0.0) -> Belief:
    """Eight cells of one coefficient each, with a normal prior of mean 0 for what they share."""
    both = Sides((1 / ERRORS**2).reshape(8, 1, 1, 1), (SCHOOLS / ERRORS**2).reshape(8, 1, 1))
    return pooled(both, TreePrior(np.zeros((1, 1)), np.array([precision]), np.array([spread**2])))


class TestEightSchools:
    def test_complete_pooling(self) -> None:
        found = schools(1e-3)
        assert found.shared.mean[0, 0] == pytest.approx(7.685617, abs=5e-7)
        assert math.sqrt(found.shared.covariance[0, 0, 0]) == pytest.approx(4.071919, abs=5e-7)

    def test_posterior_means_of_the_hierarchy(self) -> None:
        """Means over the spread, half-Cauchy(5), and the mean, N(0, 5): as 10,000 draws have them, to 2 mcse."""
        spread = 5 * np.tan((np.arange(4000) + 0.5) / 4000 * np.pi / 2)  # equal shares of the half-Cauchy
        spread = spread[spread < 400]
        variance = ERRORS**2 + spread[:, None] ** 2
        # likelihood of the eight effects, the mean integrated out: normal with covariance diag + 25
        inside = 1 + 25 * (1 / variance).sum(axis=1)
        square = (SCHOOLS**2 / variance).sum(axis=1) - 25 * (SCHOOLS / variance).sum(axis=1) ** 2 / inside
        likelihood = np.exp(-0.5 * (np.log(variance).sum(axis=1) + np.log(inside) + square))
        means = np.array([schools(s, 1 / 25).cells.mean.ravel() for s in spread])
        found = likelihood @ means / likelihood.sum()
        printed = [6.1505, 4.9396, 3.9059, 4.7960, 3.6144, 4.0511, 6.3172, 4.8840]
        assert found == pytest.approx(printed, abs=0.12)


# Efron, B., Morris, C. (1975), JASA 70: hits in the first 45 at bats of 1970 and the averages they print
HITS = np.array([18, 17, 16, 15, 14, 14, 13, 12, 11, 11, 10, 10, 10, 10, 10, 9, 8, 7.0])
REST = [0.346, 0.298, 0.276, 0.222, 0.273, 0.270, 0.263, 0.210, 0.269, 0.230, 0.264, 0.256, 0.303, 0.264, 0.226]
REST += [0.285, 0.316, 0.200]


class TestBattingAverages:
    def test_1975_on_the_scale_of_angles(self) -> None:
        z = math.sqrt(45) * np.arcsin(2 * HITS / 45 - 1)
        factor = 1 - 15 / ((z - z.mean()) ** 2).sum()
        assert factor == pytest.approx(0.209, abs=5e-4)
        found = batters(z, 1.0, factor)
        averages = (np.sin(found / math.sqrt(45)) + 1) / 2
        printed = [0.290, 0.286, 0.281, 0.277, 0.273, 0.273, 0.268, 0.264, 0.259, 0.259]
        printed += [0.254] * 5 + [0.249, 0.244, 0.239]
        assert averages == pytest.approx(printed, abs=5.1e-4)
        gain = ((HITS / 45 - REST) ** 2).sum() / ((averages - REST) ** 2).sum()
        assert gain == pytest.approx(3.50, abs=5e-3)

    def test_1977_on_the_scale_of_averages(self) -> None:
        p = HITS / 45
        found = batters(p, p.mean() * (1 - p.mean()) / 45, 0.212)
        assert found == pytest.approx(0.265 + 0.212 * (p - 0.265), abs=5e-4)
        assert found[0] == pytest.approx(0.294, abs=5e-4)


def batters(values: np.ndarray, variance: float, factor: float) -> np.ndarray:
    """Pooling with the spread of players for which the shrinking factor is the printed one."""
    both = Sides(np.full((18, 1, 1, 1), 1 / variance), (values / variance).reshape(18, 1, 1))
    spread = variance * factor / (1 - factor)
    return pooled(both, TreePrior(np.zeros((1, 1)), np.zeros(1), np.array([spread]))).cells.mean.ravel()


def solved(
    layout: Layout, group: list[int], u: np.ndarray, v: np.ndarray, y: np.ndarray
) -> tuple[Equations, np.ndarray]:
    """Least squares from sums, every group with a free level of its own; level and choices left out."""
    count = len(y)
    records = Records(
        layout=layout,
        contributors=tuple(f"g{k}" for k in range(max(group) + 1)),
        machines=("m",),
        cells=("c",),
        outcomes=("y",),
        contributor=np.array(group),
        machine=np.zeros(count, dtype=int),
        cell=np.zeros(count, dtype=int),
        session=np.arange(count),
        season=np.zeros(count, dtype=int),
        features=features(layout, u, v),
        log_amounts=y[:, None],
    )
    found = equations(accumulate(records, np.ones((count, 1)), 0.0, FINE), ("c",), ("y",), 1e13)
    inner = slice(1, layout.features)
    left, right = found.information.sum(axis=0)[inner, inner], found.pull.sum(axis=0)[inner]
    return found, np.linalg.solve(left, right)


class TestResponseSurface:
    """ChemReact: the block of the experiment is a contributor, the product of the factors a condition."""

    time = np.array([80, 80, 90, 90, 85, 85, 85, 85, 85, 85, 92.07, 77.93, 85, 85])
    heat = np.array([170, 180, 170, 180, 175, 175, 175, 175, 175, 175, 175, 175, 182.07, 167.93])
    crop = np.array([80.5, 81.5, 82, 83.5, 83.9, 84.3, 84, 79.7, 79.8, 79.5, 78.4, 75.6, 78.5, 77])

    def test_stationary_point(self) -> None:
        u = np.column_stack(((self.time - 85) / 5, (self.heat - 175) / 5))
        layout = Layout(("time", "heat"), ("time x heat",))
        block = [0] * 7 + [1] * 7
        _, (b1, b2, b11, b22, b12) = solved(layout, block, u, u[:, :1] * u[:, 1:], self.crop / 10)
        bend = np.array([[b11, b12 / 2], [b12 / 2, b22]])
        place = -0.5 * np.linalg.solve(bend, [b1, b2])
        # rsm vignette: stationary point of response surface, coded and in original units
        assert place == pytest.approx([0.3722954, 0.3343802], abs=5e-7)
        assert 85 + 5 * place[0] == pytest.approx(86.86148, abs=5e-6)
        assert 175 + 5 * place[1] == pytest.approx(176.67190, abs=5e-6)
        assert np.linalg.eigvalsh(bend) * 10 == pytest.approx([-1.318695, -0.923303], abs=1e-5)


# National Institute of Standards and Technology, Statistical Reference Datasets, certified values
PONTIUS_Y = """.11019 .21956 .32949 .43899 .54803 .65694 .76562 .87487 .98292 1.09146 1.20001 1.30822 1.41599
1.52399 1.63194 1.73947 1.84646 1.95392 2.06128 2.16844 .11052 .22018 .32939 .43886 .54798 .65739 .76596
.87474 .98300 1.09150 1.20004 1.30818 1.41613 1.52408 1.63159 1.73965 1.84696 1.95445 2.06177 2.16829"""
NORRIS = """0.1 0.2 338.8 337.4 118.1 118.2 888.0 884.6 9.2 10.1 228.1 226.5 668.5 666.3 998.5 996.3 449.1 448.6
778.9 777.0 559.2 558.2 0.3 0.4 0.1 0.6 778.1 775.5 668.8 666.9 339.3 338.0 448.9 447.5 10.8 11.6 557.7 556.0
228.3 228.1 998.0 995.8 888.8 887.6 119.6 120.2 0.3 0.3 0.6 0.3 557.6 556.8 339.3 339.1 888.0 887.2 998.5 999.0
778.9 779.0 10.2 11.1 117.6 118.3 228.9 229.2 668.4 669.1 449.2 448.9 0.2 0.5"""


def digits(found: float, certified: float) -> float:
    return -math.log10(max(abs(found - certified) / abs(certified), 1e-16))


class TestReferenceDatasets:
    def test_pontius_parabola(self) -> None:
        y = np.array([float(x) for x in PONTIUS_Y.split()])
        load = np.array(list(range(150_000, 3_000_001, 150_000)) * 2, dtype=float)
        middle, half = 1_575_000.0, 1_425_000.0
        u = ((load - middle) / half)[:, None]
        found, (b1, b2) = solved(Layout(("load",)), [0] * 40, u, np.zeros((40, 0)), y)
        # the level: mean of the log amounts less what the features explain
        b0 = (y - b1 * u[:, 0] - b2 * u[:, 0] ** 2).mean()
        back = (
            b0 - b1 * middle / half + b2 * (middle / half) ** 2,
            b1 / half - 2 * b2 * middle / half**2,
            b2 / half**2,
        )
        certified = (0.673565789473684e-03, 0.732059160401003e-06, -0.316081871345029e-14)
        assert [digits(*pair) >= 9 for pair in zip(back, certified, strict=True)] == [True] * 3
        slope = np.array([b1, b2])
        rest = found.square[0] - found.pull[0, 1:3] @ slope
        assert digits(math.sqrt(rest / 37), 0.205177424076185e-03) >= 3  # a difference of sums of 1e8 times its size

    def test_norris_line(self) -> None:
        numbers = np.array([float(x) for x in NORRIS.split()]).reshape(-1, 2)
        y, x = numbers[:, 0] / 1000, numbers[:, 1] / 1000
        layout = Layout((), ("x",))
        _, (b1,) = solved(layout, [0] * 36, np.zeros((36, 0)), x[:, None], y)
        b0 = 1000 * (y - b1 * x).mean()
        assert digits(b1, 1.00211681802045) >= 10
        assert digits(b0, -0.262323073774029) >= 10


class TestDyestuff:
    yields = (
        [1545, 1440, 1440, 1520, 1580],
        [1540, 1555, 1490, 1560, 1495],
        [1595, 1550, 1605, 1510, 1560],
        [1445, 1440, 1595, 1465, 1545],
        [1595, 1630, 1515, 1635, 1625],
        [1520, 1455, 1450, 1480, 1445],
    )

    def test_levels_of_contributors_are_the_predictions_of_the_variance_components(self) -> None:
        mean, of_batch, of_one = 1527.5, 1764.05, 2451.25  # as lme4 prints them
        ratio = of_batch / of_one
        layout = Layout(())
        y = (np.array(self.yields).ravel() - mean) / 100
        group = [batch for batch in range(6) for _ in range(5)]
        found, _ = solved(layout, group, np.zeros((30, 0)), np.zeros((30, 0)), y)
        level = 100 * ratio * found.level_amount / (1 + ratio * found.level_weight)
        assert level == pytest.approx([-17.6069, 0.3913, 28.5622, -23.0845, 56.7332, -44.9953], abs=5e-4)


def test_a_row_of_another_cell_or_outcome_is_refused() -> None:
    with pytest.raises(UnknownName, match="cell"):
        equations(sums(drawn(1)), CELLS[:2], NAMES, 0.5)
    with pytest.raises(UnknownName, match="outcome"):
        fit(sums(drawn(1)), CELLS, OUTCOMES[:2], METHOD)


def test_sides_that_do_not_fit_the_prior_are_refused() -> None:
    with pytest.raises(OutOfRange):
        pooled(Sides(np.zeros((3, 1, 2, 2)), np.zeros((3, 1, 2))), TreePrior(np.zeros((1, 3)), np.ones(3), np.ones(3)))


def test_a_prior_without_spread_is_refused() -> None:
    model = replace(METHOD.model, own_cell_sd=Spread(0.3, 0.0, 0.1, 0.1, 0.1))
    with pytest.raises(OutOfRange):
        tree_prior(LAYOUT, OUTCOMES, model)
