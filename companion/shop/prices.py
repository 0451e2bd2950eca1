"""The user's own prices: ``prices.toml`` beside the settings. None is ever invented.

A price is what one pays, in the currency named, as a plain number; it is read as a decimal
number and never becomes a binary fraction. What is left out is told as missing when a quote
needs it; 0 says that it costs nothing.
"""

from __future__ import annotations

import json
import os
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from pathlib import Path
from typing import Any, Literal

from companion.errors import ShopError, UsageError
from companion.sentence import sentence
from companion.units import plain_number

NAME = "prices.toml"
Base = Literal["materials", "labour", "both"]
BASES: tuple[Base, ...] = ("materials", "labour", "both")
EXAMPLE = """\
currency = "EUR"        # how it is written behind an amount
decimals = 2
[labour]
per_hour =              # what an hour of yours costs
allowance_percent =     # rest and needs, on top of the minutes at the saw
[overhead]
percent =               # rent, power, tools
of = "labour"           # or "materials", or "both"
[profit]
markup_percent =        # share of the cost; or margin_percent: share of the price
[[sheet]]
material = "mdf"        # as in project.toml
thickness_mm = 6.0
width_mm =
height_mm =
price =                 # of one sheet
saw_kerf_mm =           # of the saw that parts it into blanks
[blade]
price =                 # of one
[drill]
price =                 # of one
holes =                 # that one lasts
[tape]
price =                 # of a roll
length_m =
[paint]
price =                 # of one can
covers_m2 =             # one can, one coat
coats =                 # left out: as the plan finishes the pieces; 0: none
"""


@dataclass(frozen=True, slots=True)
class SheetPrice:
    """A sheet that can be bought."""

    material: str
    thickness_mm: Decimal
    width_mm: Decimal
    height_mm: Decimal
    price: Decimal
    saw_kerf_mm: Decimal


@dataclass(frozen=True, slots=True)
class Prices:
    """All that is known; None: not told."""

    currency: str = ""
    decimals: int = 2
    per_hour: Decimal | None = None
    allowance_percent: Decimal = Decimal(0)
    """On the minutes; 0 when not told."""
    overhead_percent: Decimal | None = None
    overhead_of: Base = "labour"
    markup_percent: Decimal | None = None
    """Of the cost; at most one of this and the next is told."""
    margin_percent: Decimal | None = None
    """Of the price."""
    sheets: tuple[SheetPrice, ...] = ()
    blade: Decimal | None = None
    drill: Decimal | None = None
    drill_holes: Decimal | None = None
    tape: Decimal | None = None
    tape_m: Decimal | None = None
    paint: Decimal | None = None
    paint_m2: Decimal | None = None
    paint_coats: Decimal | None = None
    """None: as the plan finishes the pieces."""


_KEYS: dict[tuple[str, str], str] = {
    ("labour", "per_hour"): "per_hour", ("labour", "allowance_percent"): "allowance_percent",
    ("overhead", "percent"): "overhead_percent", ("overhead", "of"): "overhead_of",
    ("profit", "markup_percent"): "markup_percent",
    ("profit", "margin_percent"): "margin_percent", ("blade", "price"): "blade",
    ("drill", "price"): "drill", ("drill", "holes"): "drill_holes", ("tape", "price"): "tape",
    ("tape", "length_m"): "tape_m", ("paint", "price"): "paint",
    ("paint", "covers_m2"): "paint_m2", ("paint", "coats"): "paint_coats",
}  # fmt: skip
_HEAD = "# Kerfside prices. What is left out is asked for when a quote needs it; 0: it is free."
AS_PLANNED = "plan"
"""The answer that leaves the coats to the plan's finish."""
MOST_COATS = 20
"""More coats than this are a slip of the hand."""
_POSITIVE = {"drill_holes", "tape_m", "paint_m2"}


def load_prices(path: Path) -> Prices:
    """Read the file; none there: nothing is known.

    Raises:
        ShopError: not TOML, an unknown key, a number that cannot be.
    """
    if not path.exists():
        return Prices()
    try:
        raw = tomllib.loads(path.read_text(encoding="utf-8"), parse_float=Decimal)
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError, ArithmeticError) as error:
        raise ShopError(
            sentence("the prices in {path} cannot be read", path=path),
            str(error),
            'Mend the line; a price with a comma stands in quotation marks, as in "12,50".',
        ) from error
    found: dict[str, Any] = {}
    for name, value in raw.items():
        if name == "currency" and isinstance(value, str) and value.isprintable():
            found["currency"] = value
        elif name == "decimals" and type(value) is int and 0 <= value <= 4:
            found["decimals"] = value
        elif name == "sheet" and isinstance(value, list):
            found["sheets"] = tuple(_sheet(v, i, path) for i, v in enumerate(value, 1))
        elif isinstance(value, dict) and all((name, k) in _KEYS for k in value):
            for key, one in value.items():
                field = _KEYS[name, key]
                found[field] = _value(field, one, f"{name}.{key}", path)
        else:
            raise _bad(path, name, "is not a price, or holds an unknown key")
    if {"markup_percent", "margin_percent"} <= set(found):
        raise _bad(path, "profit", "has both a markup and a margin; give one")
    return Prices(**found)


def _value(field: str, value: object, key: str, path: Path | None) -> Decimal | Base:
    if field == "overhead_of":
        if value not in BASES:
            raise _bad(path, key, sentence("must be one of {known}", known=", ".join(BASES)))
        return value
    number = _number(value, key, path)
    if field == "paint_coats":
        _within(number, MOST_COATS, key, path)
    if field in _POSITIVE and number <= 0:
        raise _bad(path, key, "must be above 0")
    if field == "margin_percent" and number >= 100:
        raise _bad(path, key, "must be below 100: a margin is a share of the price")
    return number


def _number(value: object, key: str, path: Path | None) -> Decimal:
    if isinstance(value, str):
        # "12,50" in quotation marks: a comma alone TOML would not read
        try:
            value = Decimal(plain_number(value))
        except UsageError as error:
            raise _bad(path, key, str(error)) from error
    if isinstance(value, bool) or not isinstance(value, int | Decimal):
        raise _bad(path, key, sentence("must be a number, not {value!r}", value=value))
    number = Decimal(value)
    return _within(number, 10**9, key, path)


def _within(number: Decimal, most: int, key: str, path: Path | None) -> Decimal:
    if not number.is_finite() or not 0 <= number <= most:
        raise _bad(
            path, key, sentence("is out of range, 0 to {most}: {value}", most=most, value=number)
        )
    return number


def _sheet(value: object, place: int, path: Path | None) -> SheetPrice:
    needed = ("material", "thickness_mm", "width_mm", "height_mm", "price")
    key = f"sheet {place}"
    if not isinstance(value, Mapping) or not isinstance(value.get("material"), str):
        raise _bad(path, key, "must name its material")
    if not set(needed) <= set(value) <= {*needed, "saw_kerf_mm"}:
        raise _bad(
            path, key, sentence("needs {known}; saw_kerf_mm may be added", known=", ".join(needed))
        )
    numbers = {k: _number(v, f"{key} {k}", path) for k, v in value.items() if k != "material"}
    if min(numbers[k] for k in ("thickness_mm", "width_mm", "height_mm")) <= 0:
        raise _bad(path, key, "must have a size")
    kerf = numbers.pop("saw_kerf_mm", Decimal(0))
    return SheetPrice(material=str(value["material"]), saw_kerf_mm=kerf, **numbers)


def _bad(path: Path | None, key: str, what: str) -> ShopError:
    """What is wrong in the file, or without a path, with an answer: the question shows which."""
    if path is None:
        return ShopError(sentence("{key} {what}", key=key, what=sentence(what)))
    return ShopError(
        sentence("{name}: {key} {what}", name=path.name, key=key, what=sentence(what)),
        "",
        sentence("Mend it in {path}.", path=path),
    )


def with_price(prices: Prices, field: str, text: str) -> Prices:
    """The prices with one answer in them.

    Args:
        prices: as they are.
        field: of ``Prices``; ``profit`` takes "30 % margin" or "40 % markup".
        text: as people write it; of ``paint_coats`` also ``plan``.

    Raises:
        ShopError, UsageError: the answer will not do.
    """
    if field == "paint_coats" and text.strip().lower() == AS_PLANNED:
        return replace(prices, paint_coats=None)
    here, typed = None, sentence("the answer")
    if field == "currency":
        if not 1 <= len(text) <= 8 or not text.isprintable():
            raise _bad(here, typed, sentence("must be one to eight letters"))
        return replace(prices, currency=text)
    if field == "decimals":
        if text not in ("0", "1", "2", "3", "4"):
            raise _bad(here, typed, sentence("must be 0 to 4"))
        return replace(prices, decimals=int(text))
    if field == "profit":
        number, _, name = text.replace("%", " ").strip().partition(" ")
        kinds = {"margin": "margin_percent", "markup": "markup_percent"}
        kind = kinds.get(name.strip().lower())
        if kind is None:
            raise _bad(
                here,
                typed,
                sentence(
                    "must name a margin of the price or a markup on the cost, as in 30 % margin"
                ),
            )
        value = _value(kind, number, typed, here)
        return replace(prices, **{**dict.fromkeys(kinds.values()), kind: value})  # type: ignore[arg-type]
    return replace(prices, **{field: _value(field, text, typed, here)})  # type: ignore[arg-type]


def with_sheet(prices: Prices, sheet: Mapping[str, object]) -> Prices:
    """The prices with one sheet more; one of the same material and thickness goes.

    Raises:
        ShopError: it lacks something, or a number cannot be.
    """
    new = _sheet(sheet, len(prices.sheets) + 1, None)
    kept = [s for s in prices.sheets if (s.material, s.thickness_mm) != (
        new.material, new.thickness_mm)]  # fmt: skip
    return replace(prices, sheets=(*kept, new))


def save_prices(prices: Prices, path: Path) -> None:
    """Write the file, whole or not at all; every digit as it was given.

    A file that a hand has commented is kept beside, under its name with ``.old``.

    Raises:
        ShopError: it cannot be written.
    """
    lines = [_HEAD, f"currency = {json.dumps(prices.currency, ensure_ascii=False)}",
             f"decimals = {prices.decimals}"]  # fmt: skip
    section = ""
    for (name, key), field in _KEYS.items():
        value = getattr(prices, field)
        if value is not None:
            lines += [] if name == section else ["", f"[{name}]"]
            section = name
            lines.append(
                f"{key} = {value:f}" if isinstance(value, Decimal) else f'{key} = "{value}"'
            )
    for sheet in prices.sheets:
        lines += ["", "[[sheet]]", f"material = {json.dumps(sheet.material, ensure_ascii=False)}"]
        for key in ("thickness_mm", "width_mm", "height_mm", "price", "saw_kerf_mm"):
            lines.append(f"{key} = {getattr(sheet, key):f}")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        if path.exists():
            before = path.read_text(encoding="utf-8")
            if "#" in before.replace(_HEAD, ""):
                path.with_name(f"{path.name}.old").write_text(before, encoding="utf-8")
        beside = path.with_name(f"{path.name}.{os.getpid()}.part")
        beside.write_text("\n".join([*lines, ""]), encoding="utf-8")
        beside.replace(path)
    except OSError as error:
        raise ShopError(
            sentence("the prices cannot be written to {path}", path=path), str(error),
            "Check the folder's rights.",
        ) from error  # fmt: skip
