"""The cascade: attributes, style sheets and style attributes into one style per element.

Order of SVG 2 chapter 6: presentation attributes first, then sheet rules by weight,
then the style attribute, then whatever is important. An invalid value is ignored,
so the next weaker one holds (CSS 2.1 section 4.2).
"""

from __future__ import annotations

import re
from collections.abc import Callable

from companion.pattern.css import StyleSheet, parse_declarations
from companion.pattern.lengths import Viewport, split_length, user_length
from companion.pattern.paint import parse_colour, parse_paint
from companion.pattern.tree import Node

INITIAL = {
    "fill": "black",
    "fill-rule": "nonzero",
    "fill-opacity": "1",
    "stroke": "none",
    "stroke-width": "1",
    "stroke-linecap": "butt",
    "stroke-linejoin": "miter",
    "stroke-miterlimit": "4",
    "stroke-dasharray": "none",
    "stroke-dashoffset": "0",
    "stroke-opacity": "1",
    "visibility": "visible",
    "color": "black",
    "clip-rule": "nonzero",
    "font-size": "16",
    "paint-order": "normal",
    "marker-start": "none",
    "marker-mid": "none",
    "marker-end": "none",
}
"""Inherited properties and their initial values (SVG 2 property index)."""

OWN = {
    "display": "inline",
    "opacity": "1",
    "clip-path": "none",
    "mask": "none",
    "filter": "none",
    "overflow": "hidden",
    "vector-effect": "none",
    "mix-blend-mode": "normal",
    "stop-color": "black",
    "stop-opacity": "1",
    "transform": "",
}
"""Properties that are not inherited."""

GEOMETRY = {"x", "y", "width", "height", "cx", "cy", "r", "rx", "ry", "d"}
"""Attributes that style may set too (SVG 2 chapter 7, geometry properties)."""

NAMES = set(INITIAL) | set(OWN) | {"marker"}
FONT_SIZES = {
    "xx-small": 9.0,
    "x-small": 10.0,
    "small": 13.0,
    "medium": 16.0,
    "large": 18.0,
    "x-large": 24.0,
    "xx-large": 32.0,
}
"""CSS Fonts 3 section 3.5, rounded as user agents do at medium = 16 px."""

COLOURS = ("fill", "stroke", "color", "stop-color")
_RULES = ("nonzero", "evenodd")
_NUMBER = re.compile(r"^\s*+[+-]?(?>\d++\.?\d*+|\.\d++)(?>[eE][+-]?\d++)?%?\s*+$")
_VALID: dict[str, Callable[[str], bool]] = {
    "fill": lambda v: parse_paint(v, "black") is not None,
    "stroke": lambda v: parse_paint(v, "black") is not None,
    "color": lambda v: parse_colour(v, "black") is not None,
    "fill-rule": lambda v: v in _RULES,
    "clip-rule": lambda v: v in _RULES,
    "fill-opacity": lambda v: bool(_NUMBER.match(v)),
    "stroke-opacity": lambda v: bool(_NUMBER.match(v)),
    "stop-opacity": lambda v: bool(_NUMBER.match(v)),
    "stop-color": lambda v: parse_colour(v, "black") is not None,
    "opacity": lambda v: bool(_NUMBER.match(v)),
    "stroke-width": lambda v: (p := split_length(v)) is not None and p[0] >= 0.0,
    "stroke-linecap": lambda v: v in ("butt", "round", "square"),
    "stroke-linejoin": lambda v: v in ("miter", "round", "bevel", "miter-clip", "arcs"),
    "stroke-miterlimit": lambda v: bool(_NUMBER.match(v)) and float(v.strip("% ")) >= 1.0,
    "visibility": lambda v: v in ("visible", "hidden", "collapse"),
}


class Style:
    """What holds for one element."""

    __slots__ = ("font_px", "inherited", "own", "shape")

    def __init__(
        self, inherited: dict[str, str], own: dict[str, str], shape: dict[str, str], font_px: float
    ) -> None:
        self.inherited = inherited
        self.own = own
        self.shape = shape
        self.font_px = font_px

    def __getitem__(self, name: str) -> str:
        """A property's value, initial when nothing sets it."""
        if name in INITIAL:
            return self.inherited.get(name, INITIAL[name])
        return self.own.get(name, OWN[name])

    def fraction(self, name: str) -> float:
        """An opacity, 0 to 1."""
        text = self[name].strip()
        value = float(text.rstrip("%")) / (100.0 if text.endswith("%") else 1.0)
        return min(max(value, 0.0), 1.0)

    def length(self, name: str, viewport: Viewport) -> float:
        """A length property in user units; 0 when it is not one."""
        return user_length(self[name], viewport, "other", self.font_px) or 0.0


ROOT_STYLE = Style({}, {}, {}, 16.0)


def style_of(node: Node, parent: Style, sheet: StyleSheet) -> Style:
    """Cascade for one element.

    Args:
        node: the element.
        parent: the style it inherits from.
        sheet: all rules of the drawing.
    """
    found: dict[str, str] = {}
    for name, value in node.attributes.items():
        if name in NAMES and name != "marker":
            _set(found, name, value.strip(), parent)
    important: list[tuple[str, str]] = []
    written = node.attributes.get("style")
    for declared in (sheet.declarations(node), parse_declarations(written) if written else ()):
        for name, value, strong in declared:
            if strong:
                important.append((name, value))
            else:
                _set(found, name, value, parent)
    for name, value in important:
        _set(found, name, value, parent)
    if not found:
        return Style(parent.inherited, {}, {}, parent.font_px)
    inherited, own, shape = dict(parent.inherited), {}, {}
    for name, value in found.items():
        if name in INITIAL:
            inherited[name] = value
        elif name in OWN:
            own[name] = value
        else:
            shape[name] = value
    font_px = _font_px(found["font-size"], parent.font_px) if "font-size" in found else 0.0
    return Style(inherited, own, shape, font_px or parent.font_px)


def _set(found: dict[str, str], name: str, value: str, parent: Style) -> None:
    if name not in NAMES and name not in GEOMETRY:
        return
    low = value.lower()
    if low == "inherit":
        if name in INITIAL:
            found[name] = parent[name]
        elif name in OWN:
            found[name] = parent[name]
        return
    if low in ("initial", "unset", "revert"):
        if name in INITIAL:
            found[name] = parent[name] if low == "unset" else INITIAL[name]
        elif name in OWN:
            found[name] = OWN[name]
        return
    if name == "marker":
        for part in ("marker-start", "marker-mid", "marker-end"):
            found[part] = value
        return
    check = _VALID.get(name)
    if check is None or check(low if name not in COLOURS else value):
        keep = low if name in _VALID and name not in COLOURS else value
        if name == "color" and low == "currentcolor":
            keep = parent["color"]
        found[name] = keep


def _font_px(text: str, parent_px: float) -> float:
    low = text.strip().lower()
    if low in FONT_SIZES:
        return FONT_SIZES[low]
    if low in ("smaller", "larger"):
        return parent_px / 1.2 if low == "smaller" else parent_px * 1.2
    value = user_length(low, Viewport(1.0, 1.0), "x", parent_px)
    if value is not None and low.endswith("%"):
        value *= parent_px
    return value if value is not None and value > 0.0 else 0.0
