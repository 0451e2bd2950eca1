"""Costing against worked examples in print; three misprints among them as negative cases.

Sources: OpenStax, Principles of Managerial Accounting ch. 4 (job cost, overhead rate); a
job-costing exercise page (overhead 60 % of materials); a craft pricing page; a craft-business
page and a gross-profit chart whose printed sums are off.
"""

from __future__ import annotations

from decimal import Decimal as D

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.review.money import (
    at_margin,
    at_markup,
    job_cost,
    margin_of,
    markup_of,
    money,
    overhead,
    overhead_rate,
)
from tests.published.registry import Compare, Source

SOURCE = Source(
    "OpenStax, Principles of Managerial Accounting, ch. 4; a job-costing exercise page "
    "(overhead 60 % of materials); a craft pricing page; a craft-business page and a gross- "
    "profit chart with misprints.",
    "C",
    "money is exact",
)


@pytest.mark.parametrize(
    ("materials", "labour", "of_materials", "total"),
    [(5000, 9000, 3000, 17000), (7000, 4000, 4200, 15200), (1500, 3000, 900, 5400)],
)  # fmt: skip
def test_job_cost_sheet(
    row: Compare, materials: int, labour: int, of_materials: int, total: int
) -> None:
    over = overhead(D(materials), D(60))
    row(over, of_materials, what="overhead on materials")
    row(job_cost([D(materials), D(labour), over]), total, what="job cost")


def test_open_jobs_and_the_rate_itself(row: Compare) -> None:
    """Job-costing exercise page."""
    row(job_cost([D(17000), D(5400)]), 22400, what="open jobs")
    # estimated overhead over its base
    row(overhead_rate(D(8100), D(13500)), 60, what="overhead rate, %")


def test_craft_example(row: Compare) -> None:
    """Materials 7.00 and half an hour at 15.00, doubled: 29.00."""
    cost = job_cost([D("7.00"), D("0.5") * D("15.00")])
    row(cost, 14.50, what="craft example: cost")
    row(at_markup(cost, D(100)), 29.00, what="craft example: price")


def test_misprinted_craft_sum_is_not_reproduced(row: Compare) -> None:
    """25.00 + 14.00 + a third of the materials, 8.34: the page prints 47.40 and 94.80."""
    cost = job_cost([D("25.00"), D("14.00"), D("8.34")])
    assert cost == D("47.34") != D("47.40")
    assert at_markup(cost, D(100)) == D("94.68") != D("94.80")
    row(cost, 47.34, what="craft sum (the page prints 47.40)", trust="C/D")


@pytest.mark.parametrize(
    ("margin", "markup"), [(20, "25.00"), (25, "33.33"), ("33.333333333", "50.00"),
                           (35, "53.85"), (50, "100.00")],
)  # fmt: skip
def test_margin_is_not_markup(row: Compare, margin: int | str, markup: str) -> None:
    price = at_margin(D(100), D(margin))
    row(
        money(markup_of(D(100), price), 2),
        float(markup),
        what=f"markup at a margin of {float(margin):.4g} %",
    )
    row(margin_of(D(100), price), D(margin))
    assert at_markup(D(100), D(margin)) < price


@pytest.mark.parametrize(
    ("margin", "true", "printed"),
    [(10, "1.11", "1.11"), (46, "1.85", "1.86"), (50, "2.00", "2.00"), (54, "2.17", "2.17"),
     (55, "2.22", "2.24")],
)  # fmt: skip
def test_multiplier_chart_and_its_misprints(
    row: Compare, margin: int, true: str, printed: str
) -> None:
    """1 / (1 - margin); the chart is off by .01 and .02 at 46 and 55 %."""
    found = money(at_margin(D(1), D(margin)), 2)
    row(found, float(true), what=f"price multiplier at {margin} % (printed {printed})", trust="C/D")
    assert (found == D(printed)) == (margin not in (46, 55))


def test_a_margin_of_all_has_no_price() -> None:
    with pytest.raises(ValueError, match="below 100"):
        at_margin(D(1), D(100))


def test_round_once_and_late() -> None:
    """Three thirds of 10.00: rounded lines would make 9.99."""
    thirds = [D(10) / 3] * 3
    assert money(job_cost(thirds), 2) == D("10.00")
    assert sum(money(t, 2) for t in thirds) == D("9.99")
    assert money(D("0.125"), 2) == D("0.13") and money(D("-0.125"), 2) == D("-0.13")


@given(st.decimals(1, 10**6, places=2), st.decimals(0, 99, places=1))
def test_margin_and_markup_invert(cost: D, percent: D) -> None:
    assert float(margin_of(cost, at_margin(cost, percent))) == pytest.approx(float(percent))
    assert float(markup_of(cost, at_markup(cost, percent))) == pytest.approx(float(percent))
