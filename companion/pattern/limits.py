"""The reader's limits and thresholds come from one table, ``data/limits.toml``.

Code holds no such number; each value there has a source and a trust code.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, fields
from functools import lru_cache
from importlib import resources


@dataclass(frozen=True, slots=True)
class Limits:
    """Values of ``data/limits.toml``; the table tells what each is for."""

    file_bytes: int
    """Largest file, after decompression too."""
    reading_s: float
    """Processor time for one drawing."""
    reading_bytes: int
    """Memory for one drawing."""
    elements: int
    """Elements in the file."""
    drawn_shapes: int
    """Shapes after references are followed."""
    depth: int
    """Elements inside one another."""
    path_segments: int
    """Segments over the whole drawing."""
    points: int
    """Points after flattening."""
    crossings: int
    """Crossings of two regions' outlines."""
    self_crossings: int
    """Crossings within one shape or among all cut lines."""
    dashes: int
    """Dashes over the whole drawing."""
    style_tests: int
    """Tests of style rules against elements."""
    overlay_points: int
    """Points gone over while cutting one region out of another."""
    entity_chars: int
    """Characters of one entity, expanded."""
    expanded_ratio: float
    """Characters over bytes, beyond the first million."""
    largest_mm: float
    """Largest drawing."""
    smallest_mm: float
    """Smallest drawing."""
    small_ink_mm: float
    """Below this the drawing likely has no real size."""
    flatness_mm: float
    """Largest distance between a curve and its chords."""
    grid_mm: float
    """Coordinates closer than this are one."""
    join_mm: float
    """Open ends closer than this are joined."""
    speck_mm2: float
    """Regions smaller than this are dropped."""
    sliver_mm: float
    """Regions thinner than this are closed or dropped."""
    paper_channel: float
    """Darkest channel of paper-coloured paint, 0 to 1."""
    faint_alpha: float
    """Opacity below which paint does not show, 0 to 1."""
    hairline_ratio: float
    """Stroke width over the drawing's diagonal."""
    frame_margin_mm: float
    """Plate around the ink when no frame is drawn."""
    findings_each: int
    """Findings of a kind listed one by one."""


@lru_cache(maxsize=1)
def limits() -> Limits:
    """The shipped table."""
    text = resources.files("companion.pattern").joinpath("data/limits.toml").read_text("utf-8")
    table = tomllib.loads(text)
    return Limits(**{f.name: table[f.name]["value"] for f in fields(Limits)})
