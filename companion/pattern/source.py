"""What every part of the walk shares: the document, its rules, notices and counts."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from companion.errors import PatternError
from companion.findings import Severity
from companion.pattern.budget import style_budget
from companion.pattern.css import StyleSheet
from companion.pattern.lengths import Viewport
from companion.pattern.limits import Limits
from companion.pattern.matrix import Matrix
from companion.pattern.outline import Outline
from companion.pattern.painted import Clip, Notice
from companion.pattern.pathdata import parse_path
from companion.pattern.shapes import basic_shape
from companion.pattern.style import Style
from companion.pattern.tree import Document, Node
from companion.sentence import sentence

SHAPES = {"path", "rect", "circle", "ellipse", "line", "polyline", "polygon"}


@dataclass(frozen=True, slots=True)
class Context:
    """What holds at a place of the tree."""

    style: Style
    """Inherited from."""
    matrix: Matrix
    """User units to page px."""
    viewport: Viewport
    """For percentages."""
    opacity: float
    """Product of the groups' opacities."""
    clips: tuple[Clip, ...]
    """Clip paths in force."""
    depth: int
    """Levels so far, references followed."""
    trail: tuple[int, ...]
    """Identities of the referenced elements being drawn, against circles."""
    group: int = 0
    """The outermost half-clear group; 0 for none."""
    group_opacity: float = 1.0
    """Opacity of that group."""


class Source:
    """The document while it is walked."""

    def __init__(self, document: Document, name: str, limits: Limits) -> None:
        self.document = document
        self.name = name
        self.limits = limits
        self.notices: list[Notice] = []
        self.segments = 0
        sheets: list[str] = []
        _collect_sheets(document.root, sheets)
        self.sheet = StyleSheet(sheets, style_budget(limits.style_tests, name))

    def note(
        self,
        code: str,
        severity: Severity,
        text: str,
        remedy: str,
        at_px: tuple[float, float] | None = None,
    ) -> None:
        """Keep a notice."""
        if at_px is not None and not all(map(np.isfinite, at_px)):
            at_px = None
        self.notices.append(Notice(code, severity, at_px, text, remedy))

    def outline(self, node: Node, style: Style, viewport: Viewport) -> Outline:
        """A shape's outline in its user units; errors in it become notices."""
        if node.tag == "path":
            data = style.shape.get("d", "")
            d = data[6:-2] if data.startswith('path("') else node.get("d")
            outline, fault = parse_path(d)
            if fault is not None:
                text = sentence(
                    "The path data of {label} breaks off at character {position} ('{found}'); "
                    "it was drawn up to there.",
                    label=node.label,
                    position=fault.position + 1,
                    found=fault.found,
                )
                at = None
                if len(outline.segments):
                    at = (float(outline.segments[-1, 3, 0]), float(outline.segments[-1, 3, 1]))
                self.note("path-error", "warn", text, "Redraw that path or save it again.", at)
        else:
            outline, wrong = basic_shape(
                node.tag, lambda name: shape_value(node, style, name), viewport, style.font_px
            )
            if wrong:
                text = sentence("{label}: {wrong}.", label=node.label, wrong=wrong)
                self.note("shape-error", "warn", text, "Redraw that shape or save it again.")
        self.segments += len(outline.segments)
        if self.segments > self.limits.path_segments:
            raise self.too_many(sentence("path segments"), self.limits.path_segments)
        if len(outline.segments) and not np.isfinite(outline.segments).all():
            raise PatternError(
                "the drawing holds absurd numbers",
                sentence(
                    "{name}, {label}: a coordinate is not finite", name=self.name, label=node.label
                ),
                "Redraw or delete that shape and save again.",
            )
        return outline

    def too_many(self, what: str, most: int) -> PatternError:
        """The refusal for a passed limit."""
        return PatternError(
            sentence("the drawing has too many {what}", what=what),
            sentence("{name} draws more than {most:,}", name=self.name, most=most),
            "Combine or simplify its paths in a drawing program.",
        )


def _collect_sheets(root: Node, sheets: list[str]) -> None:
    todo = [root]
    while todo:
        node = todo.pop()
        kind = node.get("type").strip().lower()
        if node.tag == "style" and kind in ("", "text/css"):
            sheets.append("".join(node.text))
        todo.extend(reversed(node.children))


def shape_value(node: Node, style: Style, name: str) -> str:
    """A geometry property: style wins over the attribute."""
    return style.shape.get(name) or node.get(name)


def apply_to_point(m: Matrix, x: float, y: float) -> tuple[float, float]:
    """A point under a map."""
    return (m[0] * x + m[2] * y + m[4], m[1] * x + m[3] * y + m[5])
