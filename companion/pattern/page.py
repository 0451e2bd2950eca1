"""The size of the page: width, height and viewBox of the outermost svg.

Sources: SVG 2 chapter 8 (initial viewport, bare numbers are px), CSS Values 3 for
the ratios. A drawing without a real size is read at 96 px per inch, and said so.
"""

from __future__ import annotations

from dataclasses import dataclass

from companion.errors import PatternError
from companion.pattern.lengths import PX_PER_UNIT, Viewport, split_length
from companion.pattern.matrix import IDENTITY, Matrix, parse_viewbox, place_viewbox
from companion.pattern.quote import quoted
from companion.pattern.tree import Node
from companion.sentence import sentence

FALLBACK_PX = 100.0
"""What 100 % stands for when the drawing tells no size at all; any value would do."""


@dataclass(frozen=True, slots=True)
class Page:
    """The outermost viewport."""

    width_px: float | None
    """CSS px; None when not told."""
    height_px: float | None
    """CSS px; None when not told."""
    to_px: Matrix
    """From the root's user units to px on the page."""
    inner: Viewport
    """What percentages inside are taken of, user units."""
    assumed: str
    """Why the true size is a guess, or ""."""
    odd_viewbox: str
    """The viewBox text when it is in error and ignored, or ""."""


def page_of(root: Node, width: str, height: str, overflow_name: str) -> Page:
    """Read the outermost size.

    Args:
        root: the svg element.
        width: its width, from attribute or style; may be empty.
        height: its height.
        overflow_name: how messages name the file.

    Raises:
        PatternError: zero or negative size.
    """
    box = parse_viewbox(root.get("viewBox")) if root.get("viewBox").strip() else None
    odd = ""
    if root.get("viewBox").strip() and (box is None or box[2] < 0.0 or box[3] < 0.0):
        odd, box = quoted(root.get("viewBox"), 60), None
    if box is not None and (box[2] == 0.0 or box[3] == 0.0):
        raise _no_size(overflow_name, f"viewBox='{quoted(root.get('viewBox'), 60)}'")
    wide, why_w = _side(width, "width", overflow_name)
    tall, why_h = _side(height, "height", overflow_name)
    if box is None:
        inner = Viewport(wide or FALLBACK_PX, tall or FALLBACK_PX)
        assumed = "" if wide is not None or tall is not None else (why_w or why_h)
        return Page(wide, tall, IDENTITY, inner, assumed, odd)
    assumed = why_w if wide is None and tall is None else ""
    if wide is None and tall is None:
        wide, tall = box[2], box[3]
    elif wide is None and tall is not None:
        wide = tall * box[2] / box[3]
    elif tall is None and wide is not None:
        tall = wide * box[3] / box[2]
    assert wide is not None and tall is not None
    aspect = root.get("preserveAspectRatio", "xMidYMid")
    to_px = place_viewbox(box, (0.0, 0.0, wide, tall), aspect)
    return Page(wide, tall, to_px, Viewport(box[2], box[3]), assumed, odd)


def _side(text: str, what: str, name: str) -> tuple[float | None, str]:
    """Length in px, or None and why it is not known."""
    text = text.strip()
    if text in ("", "auto"):
        return None, sentence("it tells no size")
    shown = quoted(text, 20)
    parts = split_length(text)
    if parts is None:
        return None, sentence("its {what} '{text}' is not a length", what=what, text=shown)
    number, unit = parts
    if number <= 0.0:
        raise _no_size(name, f"{what}='{shown}'")
    if unit in PX_PER_UNIT:
        return number * PX_PER_UNIT[unit], ""
    return None, sentence(
        "its {what} is {text}, relative to a page it does not name",
        what=what,
        text=quoted(text, 20),
    )


def _no_size(name: str, what: str) -> PatternError:
    return PatternError(
        "the drawing has no size",
        sentence("{name}: {what}, so nothing of it shows", name=name, what=what),
        "Set a width and height above zero in a drawing program.",
    )
