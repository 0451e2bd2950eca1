"""Clip paths: which regions they leave, resolved to page px.

Source: CSS Masking 1, the clipPath element: its children united, cut by the
clip paths of the children and of the clipPath itself.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from companion.pattern.lengths import user_length
from companion.pattern.matrix import IDENTITY, Matrix, multiply, parse_transform
from companion.pattern.outline import Outline
from companion.pattern.painted import Clip, ClipPart
from companion.pattern.quote import quoted
from companion.pattern.source import SHAPES, Context, Source
from companion.pattern.style import ROOT_STYLE, Style, style_of
from companion.pattern.tree import Node
from companion.sentence import sentence


class Clipper:
    """Makes clips from clipPath elements; each is made once per place."""

    def __init__(self, source: Source) -> None:
        self.source = source
        self.known: dict[tuple[int, Matrix], Clip] = {}

    def _target(self, node: Node, style: Style) -> Node | None:
        value = style["clip-path"].strip()
        if value in ("none", ""):
            return None
        ident = value[4:].split(")")[0].strip(" '\"").lstrip("#") if value[:4] == "url(" else ""
        target = self.source.document.by_id.get(ident)
        if target is None or target.tag != "clipPath":
            text = sentence(
                "The clip path of {label} ('{value}') is not read.",
                label=node.label,
                value=quoted(value),
            )
            self.source.note("clip-not-read", "warn", text, "Cut the shape in a drawing program.")
            return None
        return target

    def for_element(self, node: Node, style: Style, context: Context) -> Context:
        """Add the element's own clip path, unless it is sized by the shape's box."""
        target = self._target(node, style)
        if target is None:
            return context
        if target.get("clipPathUnits") == "objectBoundingBox":
            if node.tag not in SHAPES:
                text = sentence(
                    "The clip path of {label} is sized by a group's box; not read.",
                    label=node.label,
                )
                self.source.note(
                    "clip-not-read", "warn", text, "Cut the shapes in a drawing program."
                )
            return context
        return replace(context, clips=(*context.clips, self._clip(target, context)))

    def for_shape(self, node: Node, outline: Outline, context: Context) -> tuple[Clip, ...]:
        """The context's clips and one sized by this shape's box, if it has such."""
        style = context.style
        if style["clip-path"] in ("none", ""):
            return context.clips
        target = self._target(node, style)
        if target is None or target.get("clipPathUnits") != "objectBoundingBox":
            return context.clips
        low, high = _tight_box(outline)
        box: Matrix = (high[0] - low[0], 0.0, 0.0, high[1] - low[1], low[0], low[1])
        inner = replace(context, matrix=multiply(context.matrix, box))
        return (*context.clips, self._clip(target, inner))

    def _clip(self, target: Node, context: Context) -> Clip:
        key = (id(target), context.matrix)
        known = self.known.get(key)
        if known is not None:
            return known
        if id(target) in context.trail or context.depth >= self.source.limits.depth:
            return Clip((), ())
        style = style_of(target, ROOT_STYLE, self.source.sheet)
        matrix = context.matrix
        if style["transform"]:
            matrix = multiply(matrix, parse_transform(style["transform"]) or IDENTITY)
        inner = replace(
            context,
            style=style,
            matrix=matrix,
            clips=(),
            depth=context.depth + 1,
            trail=(*context.trail, id(target)),
        )
        outer = self.for_element(target, style, inner).clips
        parts: list[ClipPart] = []
        for child in target.children:
            parts += self._clip_parts(child, inner)
        clip = Clip(tuple(parts), outer)
        self.known[key] = clip
        return clip

    def _clip_parts(self, node: Node, context: Context) -> list[ClipPart]:
        if node.tag not in SHAPES and node.tag != "use":
            return []
        style = style_of(node, context.style, self.source.sheet)
        if style["display"] == "none":
            return []
        matrix = context.matrix
        if style["transform"]:
            matrix = multiply(matrix, parse_transform(style["transform"]) or IDENTITY)
        inner = replace(context, style=style, matrix=matrix, depth=context.depth + 1)
        inner = self.for_element(node, style, inner)
        if node.tag == "use":
            target = self.source.document.by_id.get(node.get("href").strip().lstrip("#"))
            if target is None or target.tag not in SHAPES:
                return []
            x = user_length(node.get("x"), context.viewport, "x") or 0.0
            y = user_length(node.get("y"), context.viewport, "y") or 0.0
            moved = multiply(inner.matrix, (1.0, 0.0, 0.0, 1.0, x, y))
            return self._clip_parts(target, replace(inner, matrix=moved))
        if style["visibility"] != "visible":
            return []
        outline = self.source.outline(node, style, context.viewport).moved(matrix)
        return [ClipPart(outline, style["clip-rule"] == "evenodd", inner.clips)]


def _tight_box(outline: Outline) -> tuple[tuple[float, float], tuple[float, float]]:
    """Box of the shape itself, not of its control points.

    svgpathtools finds the turning points of the curves; it is imported only here,
    because it takes half a second and few drawings size a clip path by a box.
    """
    from svgpathtools import CubicBezier

    ends = outline.segments[:, [0, 3]].reshape(-1, 2)
    boxes = [(*ends.min(axis=0), *ends.max(axis=0))]
    for curve in outline.segments[~outline.straight]:
        x0, x1, y0, y1 = CubicBezier(*(complex(x, y) for x, y in curve)).bbox()
        boxes.append((x0, y0, x1, y1))
    table = np.array(boxes, dtype=np.float64)
    low, high = table[:, :2].min(axis=0), table[:, 2:].max(axis=0)
    return (float(low[0]), float(low[1])), (float(high[0]), float(high[1]))
