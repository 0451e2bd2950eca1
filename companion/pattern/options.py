"""How a drawing is to be read: what project.toml and the flags can say about it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Shaded = Literal["piece", "waste"]
Lines = Literal["auto", "cut", "ink"]


@dataclass(frozen=True, slots=True)
class ReadOptions:
    """Choices of the reader."""

    shaded: Shaded = "piece"
    """Filled areas are kept (``piece``) or removed (``waste``)."""
    lines: Lines = "auto"
    """Strokes are cut lines, ink of their width, or decided from the file."""
    width_mm: float | None = None
    """Width of the pattern's ink after reading; None keeps the file's own size."""
    rotate_deg: float = 0.0
    """Turned clockwise on the page, degrees."""
    mirror: bool = False
    """Left and right exchanged, before turning."""
