"""What is done after the last cut, by material and by what is put on, from the table.

The order is the table's; nothing is put on before what must dry under it is told to dry.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any, Literal, cast

from companion.errors import ShopError
from companion.sentence import sentence
from companion.shop import tables
from companion.shop.model import FinishStep

Coat = Literal["paint", "varnish", "oil", "none", "raw"]
COATS: tuple[Coat, ...] = ("paint", "varnish", "oil", "none", "raw")
DRESSED = COATS[:-1]
"""All under which the piece is sanded; ``raw`` stays as it comes off the saw."""
NEEDS = ("", "stack", "openings", "hanging", "backing")
LAYS = ("", "all", "edges")
NAME = "finishing"
LONGEST_MIN = 10_000.0


@dataclass(frozen=True, slots=True)
class Finish:
    """How a project is to be finished."""

    coat: Coat = "none"
    """What is put on; ``none``: sanded only; ``raw``: left as it comes off the saw, as a
    practice piece that is judged by its printed line."""
    hanging: bool = False
    """It gets a hanger."""
    backing: bool = False
    """It gets a backing board."""


PLAIN = Finish()


def _bad(key: str, what: str) -> ShopError:
    return ShopError(
        sentence("shop table {name}.toml, {key}: {what}", name=NAME, key=key, what=sentence(what)),
        "",
        sentence("Mend it in {data}.toml.", data=tables.DATA / NAME),
    )


@cache
def rows(folder: Path = tables.DATA) -> tuple[FinishStep, ...]:
    """The whole table, in order.

    Raises:
        ShopError: a row lacks something or has a word that is not known.
    """
    found = tables.table(NAME, folder).get("step")
    if not isinstance(found, list) or not found:
        raise _bad("step", "is missing")
    return tuple(_row(row, i, folder) for i, row in enumerate(found, 1))


def _row(row: Mapping[str, Any], place: int, folder: Path) -> FinishStep:
    for need in ("key", "families", "title", "say", "why", "minutes", "batch_min", "wait_min"):
        if need not in row:
            raise _bad(f"step[{place}].{need}", "is missing")
    key, coats = f"step.{row['key']}", row.get("coats", DRESSED)
    if not set(coats) <= set(COATS):
        raise _bad(f"{key}.coats", sentence("knows {known}", known=", ".join(COATS)))
    if not set(row["families"]) <= set(tables.FAMILIES):
        raise _bad(f"{key}.families", sentence("knows {known}", known=", ".join(tables.FAMILIES)))
    needs = row.get("needs", "")
    if needs not in NEEDS:
        raise _bad(f"{key}.needs", sentence("knows {known}", known=", ".join(NEEDS[1:])))
    lays = row.get("lays", "")
    if lays not in LAYS:
        raise _bad(f"{key}.lays", sentence("knows {known}", known=", ".join(LAYS[1:])))
    minutes, batch_min, wait_min = (
        tables.row_number(NAME, f"{key}.{field}", row[field], 0.0, LONGEST_MIN, folder)
        for field in ("minutes", "batch_min", "wait_min")
    )
    return FinishStep(
        row["key"], row["title"], row["say"], row["why"], minutes, batch_min, wait_min, needs,
        tuple(row["families"]), cast("tuple[Coat, ...]", tuple(coats)), lays,
    )  # fmt: skip


def finishing(
    family: str,
    finish: Finish = PLAIN,
    stacked: bool = False,
    folder: Path = tables.DATA,
    openings: bool = True,
) -> tuple[FinishStep, ...]:
    """The finishing of one piece, in order.

    Args:
        family: of the material.
        finish: what is asked for.
        stacked: several boards were cut at once.
        folder: where the tables are.
        openings: the pattern has some.

    >>> [s.key for s in finishing("hardwood", Finish("oil"))][-3:]
    ['oil-on', 'oil-off', 'oil-second']
    """
    given = {
        "": True, "stack": stacked, "openings": openings, "hanging": finish.hanging,
        "backing": finish.backing,
    }  # fmt: skip
    return tuple(
        row
        for row in rows(folder)
        if family in row.families and finish.coat in row.coats and given[row.needs]
    )


def pieces_worth(lines_mm: Sequence[float], stack: int = 1, folder: Path = tables.DATA) -> float:
    """How many pieces' handwork some pieces take, at least one: for `FinishStep.worked_min`.

    Args:
        lines_mm: of each piece of one board, its openings' lines included.
        stack: boards cut at once.
        folder: where the tables are.

    >>> pieces_worth([2000.0]), pieces_worth([60.0]), pieces_worth([600.0, 300.0], stack=2)
    (1.0, 1.0, 3.0)
    """
    whole = tables.number(NAME, "piece.line_mm", 1, 100_000, folder)
    least = tables.number(NAME, "piece.least_share", 0, 1, folder)
    shares = [min(1.0, max(least, length / whole)) for length in lines_mm]
    return max(1.0, stack * sum(shares))
