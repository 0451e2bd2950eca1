"""How each role looks on paper: width and dashes.

All black: it must survive a photocopy in one bit, so nothing is told by colour or grey.
"""

from __future__ import annotations

from dataclasses import dataclass

from companion.draw.scene import Role


@dataclass(frozen=True, slots=True)
class Pen:
    """A line on paper."""

    width_mm: float
    dash_mm: tuple[float, ...] = ()
    """Lengths of dash and gap in turn; empty: solid."""


HAIRLINE_MM = 0.2
"""The pattern line: thin enough to saw along, thick enough for a 300 dpi printer."""

PENS: dict[Role, Pen] = {
    "hatch": Pen(0.07),
    "board": Pen(0.25, (6.0, 1.5, 0.8, 1.5)),
    "trim": Pen(0.35, (3.0, 1.0)),
    "corner": Pen(0.9),
    "piece-line": Pen(HAIRLINE_MM),
    "lead": Pen(0.1, (0.5, 0.5)),
    "hole": Pen(0.12),
    "hole-cross": Pen(0.12),
    "to-size": Pen(HAIRLINE_MM),
    "leader": Pen(0.1, (1.2, 0.5)),
    "start": Pen(0.35),
    "meet": Pen(0.35),
    "arrow": Pen(0.22),
    "turn-spin": Pen(0.15),
    "turn-back-out": Pen(0.15),
    "turn-loop": Pen(0.15),
    "neck": Pen(0.2),
    "hold": Pen(0.2),
    "fastener": Pen(0.3),
    "note": Pen(0.25),
    "bar": Pen(0.2),
}
"""In drawing order: what comes later lies on top."""
