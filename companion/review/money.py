"""Prices in decimal arithmetic: job cost, overhead, markup and margin named rightly.

Markup is a share of the cost, margin a share of the price; 50 % margin is 100 % markup.
Amounts keep all their digits; only what is shown is rounded, halves up, and a total is
rounded once and not summed from rounded lines. Source of the scheme: job-order costing as
in OpenStax, Principles of Managerial Accounting, ch. 4.
"""

from __future__ import annotations

from collections.abc import Iterable
from decimal import ROUND_HALF_UP, Decimal

HUNDRED = Decimal(100)


def money(amount: Decimal, decimals: int) -> Decimal:
    """Round for showing, halves up (away from zero).

    >>> money(Decimal("2.345"), 2), money(Decimal("0.5"), 0)
    (Decimal('2.35'), Decimal('1'))
    """
    return amount.quantize(Decimal(1).scaleb(-decimals), rounding=ROUND_HALF_UP)


def overhead(base: Decimal, percent: Decimal) -> Decimal:
    """Overhead as a share of its base.

    >>> overhead(Decimal(5000), Decimal(60))
    Decimal('3000')
    """
    return base * percent / HUNDRED


def overhead_rate(estimated: Decimal, base: Decimal) -> Decimal:
    """Percent that spreads a year's overhead over a year's base."""
    return estimated / base * HUNDRED


def job_cost(parts: Iterable[Decimal]) -> Decimal:
    """Sum, unrounded."""
    return sum(parts, Decimal(0))


def at_markup(cost: Decimal, percent: Decimal) -> Decimal:
    """Price with so much of the cost on top.

    >>> at_markup(Decimal(100), Decimal(50))
    Decimal('150.0')
    """
    return cost * (1 + percent / HUNDRED)


def at_margin(cost: Decimal, percent: Decimal) -> Decimal:
    """Price of which so much is left over the cost.

    Raises:
        ValueError: a margin of 100 % or more has no price.

    >>> money(at_margin(Decimal(100), Decimal(50)), 2)
    Decimal('200.00')
    """
    if not percent < HUNDRED:
        raise ValueError("a margin must be below 100 %")
    return cost / (1 - percent / HUNDRED)


def markup_of(cost: Decimal, price: Decimal) -> Decimal:
    """Percent of the cost."""
    return (price - cost) / cost * HUNDRED


def margin_of(cost: Decimal, price: Decimal) -> Decimal:
    """Percent of the price."""
    return (price - cost) / price * HUNDRED
