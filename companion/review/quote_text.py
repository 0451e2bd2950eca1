"""A quote as lines and as CSV; the same rows go on the PDF page."""

from __future__ import annotations

import csv
import io
from decimal import Decimal

from companion.review.cost import Quote
from companion.review.money import margin_of, markup_of, money
from companion.shop.prices import Prices
from companion.words import ENGLISH, Words

Row = tuple[str, str, str]
"""What, how it was reckoned, how much."""


def amount_text(amount: Decimal, prices: Prices, words: Words) -> str:
    """Rounded, with the currency."""
    figure = words.number(money(amount, prices.decimals), prices.decimals)
    return f"{figure} {prices.currency}".strip()


def quote_rows(quote: Quote, words: Words, numbers: Words | None = None) -> list[Row]:
    """The items, then cost and price of the batch and of one; no sums while prices are missing.

    Args:
        quote: what was reckoned.
        words: the language.
        numbers: whose decimal mark the amounts bear; None: the language's own.
    """
    numbers = numbers or words
    rows: list[Row] = [
        (i.name, i.detail, amount_text(i.amount, quote.prices, numbers)) for i in quote.items
    ]
    if quote.cost is None or quote.price is None:
        return rows + [(words.say("not told"), m, "?") for m in quote.missing]
    rows.append((words.say("cost of the batch"), words.count("{n} copy", "{n} copies",
                                                             quote.job.copies),
                 amount_text(quote.cost, quote.prices, numbers)))  # fmt: skip
    rows.append((words.say("price of the batch"), profit_text(quote, words),
                 amount_text(quote.price, quote.prices, numbers)))  # fmt: skip
    rows.append(
        (words.say("cost of one"), "", amount_text(quote.each(quote.cost), quote.prices, numbers))
    )
    rows.append(
        (words.say("price of one"), "", amount_text(quote.each(quote.price), quote.prices, numbers))
    )
    return rows


def profit_text(quote: Quote, words: Words) -> str:
    """Both names of the same profit."""
    if not quote.cost or not quote.price:
        return ""
    return words.say(
        "markup {markup} % of the cost = margin {margin} % of the price",
        markup=f"{money(markup_of(quote.cost, quote.price), 1)}",
        margin=f"{money(margin_of(quote.cost, quote.price), 1)}",
    )  # fmt: skip


def quote_lines(quote: Quote, words: Words) -> list[str]:
    """For the terminal and a text file."""
    rows = quote_rows(quote, words)
    wide = [max(len(r[i]) for r in rows) for i in range(3)]
    lines = [words.say("Quote: {name}", name=quote.job.plan.project.name), ""]
    lines += [f"{a:<{wide[0]}}  {b:<{wide[1]}}  {c:>{wide[2]}}".rstrip() for a, b, c in rows]
    return lines


def rounding_note(words: Words) -> str:
    """How the sums are rounded."""
    return words.say("Sums are rounded once, halves up; shown lines may differ from them by one "
                     "last digit.")  # fmt: skip


def quote_csv(quote: Quote, words: Words) -> str:
    """Rows with the amount and the currency in columns of their own, RFC 4180."""
    out = io.StringIO()
    table = csv.writer(out)
    table.writerow(["project", "what", "reckoned", "amount", "currency"])
    name = quote.job.plan.project.name
    name = f"'{name}" if name[:1] in tuple("=+-@\t\r") else name
    for what, how, amount in quote_rows(quote, words, ENGLISH):
        table.writerow([name, what, how, amount.split(" ")[0], quote.prices.currency])
    return out.getvalue()


def one_more_lines(now: Quote, then: Quote, most: int, words: Words) -> list[str]:
    """What one more board in the stack would change.

    Args:
        now: as planned.
        then: with one more.
        most: boards that cut true at once.
        words: the language.
    """
    stack = then.job.stack
    if now.price is None or then.price is None:
        return []
    change = then.each(then.price) - now.each(now.price)
    sign = "+" if change > 0 else ""
    lines = [words.say(
        "With {stack} in the stack: {runs} of {time}, price of one {price} ({change})",
        stack=stack, runs=words.count("{n} run", "{n} runs", then.job.runs),
        time=words.duration(then.job.minutes_a_run),
        price=amount_text(then.each(then.price), now.prices, words),
        change=f"{sign}{amount_text(change, now.prices, words)}",
    )]  # fmt: skip
    if stack > most:
        lines.append(words.say("But no more than {n} of this thickness cut true.", n=most))
    return lines
