"""The least-squares core against certified values of NIST's Statistical Reference Datasets.

Norris (36 points, lower difficulty), NoInt1 (through the origin), Longley (16 x 6, higher
difficulty); certified values as printed in the data sets' own files (StRD, linear
regression). Robust statistics against their definitions and scipy, where installed.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.review.least_squares import least_squares
from companion.review.robust import biweights, huber_weights, mad, share_within
from companion.review.worktime import hodges_lehmann
from tests.published.registry import Compare, Source

SOURCE = Source(
    "NIST Statistical Reference Datasets, linear regression: Norris, NoInt1, NoInt2, "
    "Longley; R help page of mad; Hollander and Wolfe.",
    "C",
    "digits that double precision keeps with an orthogonal solve",
)

NORRIS_X = (
    0.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777, 558.2, 0.4, 0.6, 775.5,
    666.9, 338, 447.5, 11.6, 556, 228.1, 995.8, 887.6, 120.2, 0.3, 0.3, 556.8, 339.1, 887.2,
    999, 779, 11.1, 118.3, 229.2, 669.1, 448.9, 0.5,
)  # fmt: skip
NORRIS_Y = (
    0.1, 338.8, 118.1, 888, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3, 0.1, 778.1,
    668.8, 339.3, 448.9, 10.8, 557.7, 228.3, 998, 888.8, 119.6, 0.3, 0.6, 557.6, 339.3, 888,
    998.5, 778.9, 10.2, 117.6, 228.9, 668.4, 449.2, 0.2,
)  # fmt: skip
LONGLEY_Y = (
    60323, 61122, 60171, 61187, 63221, 63639, 64989, 63761, 66019, 67857, 68169, 66513, 68655,
    69564, 69331, 70551,
)  # fmt: skip
LONGLEY_X = (
    (83.0, 234289, 2356, 1590, 107608, 1947), (88.5, 259426, 2325, 1456, 108632, 1948),
    (88.2, 258054, 3682, 1616, 109773, 1949), (89.5, 284599, 3351, 1650, 110929, 1950),
    (96.2, 328975, 2099, 3099, 112075, 1951), (98.1, 346999, 1932, 3594, 113270, 1952),
    (99.0, 365385, 1870, 3547, 115094, 1953), (100.0, 363112, 3578, 3350, 116219, 1954),
    (101.2, 397469, 2904, 3048, 117388, 1955), (104.6, 419180, 2822, 2857, 118734, 1956),
    (108.4, 442769, 2936, 2798, 120445, 1957), (110.8, 444546, 4681, 2637, 121950, 1958),
    (112.6, 482704, 3813, 2552, 123366, 1959), (114.2, 502601, 3931, 2514, 125368, 1960),
    (115.7, 518173, 4806, 2572, 127852, 1961), (116.9, 554894, 4007, 2827, 130081, 1962),
)  # fmt: skip


def test_norris(row: Compare) -> None:
    fit = least_squares([(1.0, x) for x in NORRIS_X], NORRIS_Y)
    row(fit.values, (-0.262323073774029, 1.00211681802045), rel=1e-11)
    row(fit.standard_errors, (0.232818234301152, 0.000429796848199937), rel=1e-11)
    row(fit.deviation, 0.884796396144373, rel=1e-11)
    row(fit.r_squared, 0.999993745883712, rel=1e-13)


def test_noint1_through_the_origin(row: Compare) -> None:
    fit = least_squares([(x,) for x in range(60, 71)], range(130, 141), about_mean=False)
    row(fit.values, (2.07438016528926,), rel=1e-13)
    row(fit.standard_errors, (0.0165289256198347,), rel=1e-12)
    row(fit.deviation, 3.56753034006338, rel=1e-12)
    row(fit.r_squared, 0.999365492298663, rel=1e-13)
    # about the mean it would be another number: the two must not be mixed up
    wrong = least_squares([(x,) for x in range(60, 71)], range(130, 141))
    assert wrong.r_squared < 0.0


def test_noint2_is_eight_elevenths(row: Compare) -> None:
    row(least_squares([(4,), (5,), (6,)], (3, 4, 4)).values, (8 / 11,))


def test_longley_keeps_its_digits(row: Compare) -> None:
    """The certified values to nine digits at least, which normal equations do not keep."""
    rows = [(1.0, *x) for x in LONGLEY_X]
    fit = least_squares(rows, LONGLEY_Y)
    certified = (
        -3482258.63459582, 15.0618722713733, -0.0358191792925910, -2.02022980381683,
        -1.03322686717359, -0.0511041056535807, 1829.15146461355,
    )  # fmt: skip
    row(fit.values, certified, rel=1e-9)
    row(fit.deviation, 304.854073561965, rel=1e-9)
    row(fit.r_squared, 0.995479004577296, rel=1e-10)
    a = np.asarray(rows)
    normal = np.linalg.solve(a.T @ a, a.T @ np.asarray(LONGLEY_Y))
    assert abs(normal[0] / certified[0] - 1) > 1e-9  # the test can tell a worse core


def test_what_cannot_be_fitted_is_refused() -> None:
    with pytest.raises(ValueError, match="too few"):
        least_squares([(1.0, 2.0)], [1.0])
    with pytest.raises(ValueError, match="depend"):
        least_squares([(1.0, 2.0), (2.0, 4.0), (3.0, 6.0)], [1.0, 2.0, 3.0])


# -------------------------------------------------------------- robust


def test_median_absolute_deviation(row: Compare) -> None:
    """R's help page of mad: mad(1:9) is 2.9652, and one wild value changes nothing."""
    row(mad(range(1, 10)), 2.9652, abs=1e-4)
    assert mad([*range(1, 9), 100], scale=1.0) == mad(range(1, 10), scale=1.0) == 2.0
    assert mad([1, 1, 2, 2, 4, 6, 9], scale=1.0) == 1.0


def test_hodges_lehmann_of_the_depression_scores(row: Compare) -> None:
    """Hollander & Wolfe's pairs, as R's wilcox.test shows them; 45 averages by hand: 0.460."""
    x = np.array([1.83, 0.50, 1.62, 2.48, 1.68, 1.88, 1.55, 3.06, 1.30])
    y = np.array([0.878, 0.647, 0.598, 2.05, 1.06, 1.29, 1.06, 3.14, 1.29])
    row(hodges_lehmann((x - y).tolist()), 0.460, abs=5e-4)


@settings(deadline=None, max_examples=50)
@given(st.lists(st.floats(-1e6, 1e6), min_size=1, max_size=60))
def test_against_scipy(values: list[float]) -> None:
    stats = pytest.importorskip("scipy.stats")
    assert mad(values) == pytest.approx(
        float(stats.median_abs_deviation(values, scale="normal")), rel=1e-9, abs=1e-9
    )
    walsh = [(a + b) / 2 for i, a in enumerate(values) for b in values[i:]]
    assert hodges_lehmann(values) == pytest.approx(float(np.median(walsh)), rel=1e-9, abs=1e-9)
    assert min(np.abs(values)) <= share_within(values, 0.8) <= max(np.abs(values))


def test_huber_regression_against_a_reference_library() -> None:
    """The iteration used in the calibration, on one line with wild points."""
    robust = pytest.importorskip("statsmodels.robust.robust_linear_model")
    norms = pytest.importorskip("statsmodels.robust.norms")
    chance = np.random.default_rng(3)
    x = np.column_stack([np.ones(80), chance.uniform(0, 10, 80)])
    y = x @ [2.0, 0.7] + chance.normal(0, 0.3, 80)
    y[::13] += 20.0
    kinds = ((norms.HuberT(1.345), huber_weights), (norms.TukeyBiweight(4.685), biweights))
    for norm, weights in kinds:
        wanted = robust.RLM(y, x, M=norm).fit(scale_est="mad")
        values = least_squares(x, y).values
        for _ in range(100):
            left = y - x @ values
            # the library takes the deviation about zero
            scale = float(1.482602218505602 * np.median(np.abs(left)))
            w = np.sqrt(weights(left / scale))
            values = least_squares(x * w[:, None], y * w).values
        assert values == pytest.approx(wanted.params, rel=1e-4)
        assert values == pytest.approx((2.0, 0.7), abs=0.25)
