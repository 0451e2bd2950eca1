"""Asking for prices: once, each with what is set; an empty answer skips it. None is invented."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Sequence
from decimal import Decimal

from companion.cli import wrapping
from companion.cli.wrapping import show
from companion.devices.paths import config_folder
from companion.errors import KerfsideError, UsageError
from companion.sentence import sentence
from companion.shop import tables
from companion.shop.prices import (
    AS_PLANNED,
    MOST_COATS,
    NAME,
    Prices,
    load_prices,
    save_prices,
    with_price,
    with_sheet,
)
from companion.units import length_mm
from companion.words import Words

Answer = Callable[[str], str]
Board = tuple[str, float]
"""Material and thickness, mm."""


def ask_prices(
    words: Words, boards: Sequence[Board] = (), answer: Answer = wrapping.answer
) -> Prices:
    """Ask, and keep what was told.

    Args:
        words: the language.
        boards: of which a sheet's price is asked; none: any that are named.
        answer: shows a question and returns one line.

    Raises:
        ShopError: the file cannot be read or written.
        UsageError: nobody can be asked.
    """
    if answer is wrapping.answer and not sys.stdin.isatty():
        raise UsageError(
            sentence("nobody can be asked"), "",
            sentence("Write the prices into {file}.", file=config_folder() / NAME),
        )  # fmt: skip
    prices = load_prices(config_folder() / NAME)
    show(words.say("Prices, as you pay them. Enter keeps what is set, or leaves it untold."))
    for field, question in _questions(words):
        if _needed(field, prices):
            prices = _asked(prices, field, question, words, answer)
    for board in boards:
        prices = _sheet(prices, board, words, answer)
    while not boards and (named := _board(words, answer)) is not None:
        prices = _sheet(prices, named, words, answer)
    save_prices(prices, config_folder() / NAME)
    show(words.say("Kept in {file}.", file=config_folder() / NAME))
    return prices


def _questions(words: Words) -> Iterator[tuple[str, str]]:
    say = words.say
    yield "currency", say("Currency, as it stands behind an amount")
    yield "decimals", say("Decimals of an amount")
    yield "per_hour", say("What an hour of your work costs")
    yield "allowance_percent", say("Rest and needs, percent on top of the minutes")
    yield "overhead_percent", say("Overhead (rent, power, tools), percent")
    yield "overhead_of", say("Percent of what: materials, labour or both")
    yield "profit", say("Profit, as in 30 % margin (of the price) or 40 % markup (on the cost)")
    yield "blade", say("Price of one blade")
    yield "drill", say("Price of one drill")
    yield "drill_holes", say("Holes that one drill lasts")
    yield "tape", say("Price of a roll of tape, for stacks")
    yield "tape_m", say("Metres on a roll")
    yield "paint", say("Price of a can of paint, varnish or oil")
    yield "paint_m2", say("Square metres that one can covers once")
    yield "paint_coats", say("Coats of it, 0 to {most}, or: {plan}, as it finishes the pieces",
                             most=MOST_COATS, plan=AS_PLANNED)  # fmt: skip


def _needed(field: str, prices: Prices) -> bool:
    """Whether a question makes sense after the answers so far."""
    after = {
        "overhead_of": prices.overhead_percent, "drill_holes": prices.drill,
        "tape_m": prices.tape, "paint_m2": prices.paint, "paint_coats": prices.paint,
    }  # fmt: skip
    return bool(after[field]) if field in after else True


def _now(prices: Prices, field: str) -> str:
    if field == "profit":
        if prices.margin_percent is not None:
            return f"{prices.margin_percent:f} % margin"
        return "" if prices.markup_percent is None else f"{prices.markup_percent:f} % markup"
    value = getattr(prices, field)
    if value is None:
        return AS_PLANNED if field == "paint_coats" else ""
    return f"{value:f}" if isinstance(value, Decimal) else str(value)


def _asked(prices: Prices, field: str, question: str, words: Words, answer: Answer) -> Prices:
    now = _now(prices, field)
    while text := answer(f"{question} ({now}): " if now else f"{question}: ").strip():
        try:
            return with_price(prices, field, text)
        except KerfsideError as error:
            show(words.error(error))
    return prices


def _board(words: Words, answer: Answer) -> Board | None:
    """A board to be priced."""
    while text := answer(words.say("A board to price, as in mdf 6 mm; Enter: no more: ")).strip():
        material, _, thickness = text.partition(" ")
        try:
            return tables.material(material).key, length_mm(thickness)
        except KerfsideError as error:
            show(words.error(error))
    return None


def _sheet(prices: Prices, board: Board, words: Words, answer: Answer) -> Prices:
    """Price and size of the sheet a board comes from; an empty answer leaves it."""
    material, thickness_mm = board
    say = words.say
    name = tables.material(material).name
    what = say("Price of a sheet of {material}, {thick} mm", material=name,
               thick=f"{thickness_mm:g}")  # fmt: skip
    sizes = {"width_mm": say("Its width"), "height_mm": say("Its height"),
             "saw_kerf_mm": say("Kerf of the saw that parts it into blanks")}  # fmt: skip
    known = next((s for s in prices.sheets if s.material == material
                  and abs(float(s.thickness_mm) - thickness_mm) < 0.05), None)  # fmt: skip
    now = "" if known is None else f" ({known.price:f})"
    while text := answer(f"{what}{now}: ").strip():
        found: dict[str, object] = {"material": material, "price": text,
                                    "thickness_mm": Decimal(f"{thickness_mm:g}")}  # fmt: skip
        try:
            for key, question in sizes.items():
                kept = None if known is None else getattr(known, key)
                shown = "" if kept is None else f" ({kept:f} mm)"
                size = answer(f"{question}{shown}: ").strip()
                if size:
                    found[key] = Decimal(f"{length_mm(size):g}")
                elif kept is not None:
                    found[key] = kept
            return with_sheet(prices, found)
        except KerfsideError as error:
            show(words.error(error))
    return prices
