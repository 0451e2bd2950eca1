"""Letters of our own as strokes of a pen: straight lines and arcs on a grid of one height.

A letter is one unit tall between the middles of its highest and lowest stroke, and as wide
as ``ADVANCE`` says. Curves are arcs of circles; the pen gives them their breadth.
"""

from __future__ import annotations

from companion.errors import ShopError
from companion.findings import Point
from companion.sentence import sentence

ADVANCE: dict[str, float] = {
    "A": 0.80, "D": 0.65, "E": 0.55, "I": 0.0, "N": 0.70, "O": 0.70, "R": 0.62, "S": 0.50,
    "T": 0.70,
}  # fmt: skip
"""Width between the middles of the outer strokes, over the height."""

_STROKES: dict[str, tuple[str, ...]] = {
    "A": ("M0 1L.4 0 .8 1", "M.14 .65L.66 .65"),
    "D": ("M0 0L0 1L.15 1A.5 .5 0 0 0 .15 0Z",),
    "E": ("M.55 0L0 0 0 1 .55 1", "M0 .5L.45 .5"),
    "I": ("M0 0L0 1",),
    "N": ("M0 1L0 0 .7 1 .7 0",),
    "O": ("M.7 .35L.7 .65A.35 .35 0 0 1 0 .65L0 .35A.35 .35 0 0 1 .7 .35Z",),
    "R": ("M0 1L0 0 .35 0A.27 .27 0 0 1 .35 .54L0 .54", "M.3 .54L.62 1"),
    "S": (
        "M.49 .2A.25 .25 0 0 0 .25 0A.25 .25 0 0 0 .25 .5A.25 .25 0 0 1 .25 1A.25 .25 0 0 1 .01 .8",
    ),
    "T": ("M0 0L.7 0", "M.35 0L.35 1"),
}
"""Path data in letter heights; only M, L, A and Z, absolute."""


def skeleton(sign: str, at: Point, height_mm: float) -> list[str]:
    """The strokes of a letter as SVG path data in mm.

    Args:
        sign: a capital letter of the table.
        at: its top left, between the middles of the strokes.
        height_mm: between the middles of the highest and lowest stroke.

    >>> skeleton("I", (2.0, 3.0), 10.0)
    ['M2 3L2 13']

    Raises:
        ShopError: a letter that is not drawn.
    """
    if sign not in _STROKES:
        known = "".join(sorted(_STROKES))
        raise ShopError(
            sentence("no practice letter {sign!r}", sign=sign),
            "",
            sentence("Drawn are {known}.", known=known),
        )
    return [_scaled(stroke, at, height_mm) for stroke in _STROKES[sign]]


def _scaled(stroke: str, at: Point, size: float) -> str:
    """Path data with its places moved and its radii scaled."""
    out: list[str] = []
    for command, numbers in _commands(stroke):
        if command == "A":
            for k in range(0, len(numbers), 7):
                rx, ry, turn, large, sweep, x, y = numbers[k : k + 7]
                out.append(
                    f"A{_n(rx * size)} {_n(ry * size)} {turn:g} {large:g} {sweep:g} "
                    f"{_n(at[0] + x * size)} {_n(at[1] + y * size)}"
                )
            continue
        pairs = zip(numbers[::2], numbers[1::2], strict=True)
        places = " ".join(f"{_n(at[0] + x * size)} {_n(at[1] + y * size)}" for x, y in pairs)
        out.append(command + places)
    return "".join(out)


def _commands(stroke: str) -> list[tuple[str, list[float]]]:
    found: list[tuple[str, list[float]]] = []
    for sign in "MLAZ":
        stroke = stroke.replace(sign, f"|{sign} ")
    for part in stroke.split("|")[1:]:
        command, *numbers = part.split()
        found.append((command, [float(v) for v in numbers]))
    return found


def _n(value: float) -> str:
    text = f"{value:.4f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text
