"""What the walk through the document finds: painted shapes, clips and notices."""

from __future__ import annotations

from dataclasses import dataclass

from companion.findings import Point, Severity
from companion.pattern.matrix import Matrix
from companion.pattern.outline import Outline
from companion.pattern.paint import Effect

Tint = tuple[float, float, float, float]
BLACK_TINT: Tint = (0.0, 0.0, 0.0, 1.0)


@dataclass(frozen=True, slots=True)
class Stroke:
    """How a shape's line is drawn."""

    effect: Effect
    """Ink or paper."""
    width: float
    """User units of the shape, above zero."""
    cap: str
    """butt, round or square."""
    join: str
    """miter, round or bevel."""
    miter_limit: float
    """At least 1."""
    dashes: tuple[float, ...]
    """On and off lengths, an even count; empty for a solid line."""
    dash_offset: float
    """User units."""
    fixed_width: bool
    """vector-effect non-scaling-stroke: the width is in page px."""


@dataclass(frozen=True, slots=True)
class ClipPart:
    """One shape of a clip path."""

    outline: Outline
    """In page px."""
    even_odd: bool
    """clip-rule."""
    clips: tuple[Clip, ...]
    """Clip paths of the part itself."""


@dataclass(frozen=True, slots=True, eq=False)
class Clip:
    """A region outside which nothing shows; compared by identity."""

    parts: tuple[ClipPart, ...]
    """United; none of them clips everything away."""
    clips: tuple[Clip, ...]
    """Clip paths of the clipPath element itself."""
    is_page: bool = False
    """The edge of the page, so that a finding can tell what it cut off."""


@dataclass(frozen=True, slots=True)
class Painted:
    """One shape, ready to be turned into regions."""

    outline: Outline
    """In its own user units."""
    matrix: Matrix
    """From its user units to page px."""
    fill: Effect
    """What the fill does."""
    even_odd: bool
    """fill-rule."""
    stroke: Stroke | None
    """None when no line shows."""
    stroke_first: bool
    """paint-order puts the stroke below the fill."""
    clips: tuple[Clip, ...]
    """All must hold."""
    label: str
    """How findings name it."""
    tint: Tint = BLACK_TINT
    """Colour and opacity of the fill, 0 to 1, groups included."""
    group: int = 0
    """The outermost half-clear group it is in, which is laid on as one; 0 for none."""
    solid: bool = True
    """Within that group the fill hides what lies below it."""


@dataclass(frozen=True, slots=True)
class Notice:
    """A finding before the true size is known."""

    code: str
    """As in Finding."""
    severity: Severity
    """As in Finding."""
    at_px: Point | None
    """Page px."""
    text: str
    """As in Finding."""
    remedy: str
    """As in Finding."""
