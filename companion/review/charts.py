"""Charts of the review page as SVG elements; every one stands beside a table of its numbers.

Colours come from the page's style sheet by class, so one drawing serves dark, light and
print; what a colour tells is told by place, width or a number too.
"""

from __future__ import annotations

import math
import xml.etree.ElementTree as ET
from collections.abc import Sequence
from dataclasses import dataclass

from companion.planner.plan import Plan
from companion.review.model import CutTime, MishapSeen
from companion.review.worktime import exponent, learning_rate
from companion.words import ENGLISH, Words

WIDTH = 640.0
ROW = 26.0
LEFT = 150.0
"""Room for names."""
LEAST_LABEL = 1.4
"""Hundredths of the board: smaller numbers cannot be read and are left out."""
TONES = (0.85, 1.15, 1.5, 2.0)
"""Bounds of taken over planned between the five tones."""


@dataclass(frozen=True, slots=True)
class Bar:
    """One row: planned with its range, and taken."""

    name: str
    planned: float
    low: float
    high: float
    took: float


def _svg(width: float, height: float, label: str) -> ET.Element:
    return ET.Element("svg", {
        "viewBox": f"0 0 {width:g} {height:g}", "role": "img", "aria-label": label,
        "class": "chart",
    })  # fmt: skip


def _add(parent: ET.Element, tag: str, css: str, **values: float | str) -> ET.Element:
    found = {k.replace("_", "-"): f"{v:.2f}" if isinstance(v, float) else str(v)
             for k, v in values.items()}  # fmt: skip
    return ET.SubElement(parent, tag, {"class": css, **found})


def _text(parent: ET.Element, x: float, y: float, text: str, css: str = "t") -> None:
    _add(parent, "text", css, x=x, y=y).text = text


def bars(rows: Sequence[Bar], label: str, words: Words = ENGLISH) -> ET.Element:
    """Taken as a bar, planned as a tick, its range as a line."""
    svg = _svg(WIDTH, ROW * len(rows) + 8, label)
    most = max((max(r.took, r.high) for r in rows), default=0.0) or 1.0
    scale = (WIDTH - LEFT - 70.0) / most
    for i, r in enumerate(rows):
        y = ROW * i + 6
        _text(svg, LEFT - 8, y + 13, r.name, "t end")
        _add(svg, "rect", "took", x=LEFT, y=y + 2.0, width=r.took * scale, height=14.0)
        if r.planned > 0.0:
            a, b, c = (LEFT + v * scale for v in (r.low, r.planned, r.high))
            _add(svg, "line", "plan", x1=a, x2=c, y1=y + 9.0, y2=y + 9.0)
            for x, half in ((a, 4.0), (b, 9.0), (c, 4.0)):
                _add(svg, "line", "plan", x1=x, x2=x, y1=y + 9.0 - half, y2=y + 9.0 + half)
        _text(svg, LEFT + max(r.took, r.high) * scale + 6, y + 13, words.number(r.took))
    return svg


def shares(rows: Sequence[tuple[str, float]], label: str) -> ET.Element:
    """Shares of a whole, largest bar the full width."""
    whole = sum(v for _, v in rows) or 1.0
    most = max((v for _, v in rows), default=0.0) or 1.0
    svg = _svg(WIDTH, ROW * len(rows) + 8, label)
    for i, (name, value) in enumerate(rows):
        y = ROW * i + 6
        _text(svg, LEFT - 8, y + 13, name, "t end")
        wide = (WIDTH - LEFT - 70.0) * value / most
        _add(svg, "rect", "took", x=LEFT, y=y + 2.0, width=wide, height=14.0)
        _text(svg, LEFT + wide + 6, y + 13, f"{100 * value / whole:.0f} %")
    return svg


def curve(times: Sequence[float], label: str) -> ET.Element:
    """Minutes of each run in order, with the learning curve through them."""
    height, bottom, left = 220.0, 190.0, 50.0
    svg = _svg(WIDTH, height, label)
    most = max(times) * 1.1

    def at(n: float, minutes: float) -> tuple[float, float]:
        span = max(len(times) - 1, 1)
        return left + (WIDTH - left - 30) * (n - 1) / span, bottom - (bottom - 10) * minutes / most

    _add(svg, "line", "axis", x1=left, x2=WIDTH - 20, y1=bottom, y2=bottom)
    _add(svg, "line", "axis", x1=left, x2=left, y1=10.0, y2=bottom)
    _text(svg, left - 6, 20, f"{most:.0f}", "t end")
    _text(svg, left - 6, bottom, "0", "t end")
    step = max(1, len(times) // 12)
    for n, minutes in enumerate(times, 1):
        x, y = at(n, minutes)
        _add(svg, "circle", "dot", cx=x, cy=y, r=4.0)
        if (n - 1) % step == 0:
            _text(svg, x - 4, bottom + 18, str(n))
    fit = learning_rate(times)
    if fit is not None:
        places = [1 + (len(times) - 1) * i / 60 for i in range(61)]
        along = [at(n, fit[0] * math.exp(exponent(fit[1]) * math.log(n))) for n in places]
        _add(svg, "polyline", "plan open", points=_points(along))
    return svg


def _points(points: Sequence[tuple[float, float]]) -> str:
    return " ".join(f"{x:.2f},{y:.2f}" for x, y in points)


def tone(ratio: float | None) -> int:
    """0: not done; 1 quicker than planned, 2 as planned, up to 5 twice as slow and more.

    >>> [tone(r) for r in (None, 0.5, 1.0, 1.3, 1.7, 3.0)]
    [0, 1, 2, 3, 4, 5]
    """
    return 0 if ratio is None else 1 + sum(ratio > bound for bound in TONES)


def board(
    plan: Plan, cuts: Sequence[CutTime], mishaps: Sequence[MishapSeen], label: str
) -> ET.Element:
    """The board with its cuts, the slower the darker and wider; crosses where mishaps were."""
    b = plan.board
    points = [p for c in plan.cuts for p in c.line_mm]
    wide = max([b.width_mm, *(p[0] for p in points)]) or 1.0
    high = max([b.height_mm, *(p[1] for p in points)]) or 1.0
    unit = max(wide, high) / 100.0
    svg = _svg(round(wide + 2 * unit, 2), round(high + 2 * unit, 2), label)
    svg.set("class", "chart board")
    main = ET.SubElement(svg, "g", {"transform": f"translate({unit:.2f} {unit:.2f})"})
    _add(main, "rect", "wood", x=0.0, y=0.0, width=wide, height=high, stroke_width=unit / 3)
    ratio = {c.number: c.ratio for c in cuts}
    for cut in sorted(plan.cuts, key=lambda c: -c.area_mm2):
        kind = tone(ratio.get(cut.number))
        _add(main, "polygon", f"cut tone{kind}", points=_points(cut.line_mm),
             stroke_width=unit * (0.25 + 0.15 * kind))  # fmt: skip
    for hole in plan.to_size:
        _add(main, "circle", "wood", cx=hole.at_mm[0], cy=hole.at_mm[1],
             r=hole.drill_mm / 2, stroke_width=unit * 0.25)  # fmt: skip
    for cut in plan.cuts:
        xs, ys = [p[0] for p in cut.line_mm], [p[1] for p in cut.line_mm]
        label_mm = min(2.8 * unit, 0.8 * (max(ys) - min(ys)),
                       (max(xs) - min(xs)) / (0.7 * len(str(cut.number))))  # fmt: skip
        if cut.side == "inside" and label_mm >= LEAST_LABEL * unit:
            # as a style: the style sheet outweighs the attribute
            mark = _add(main, "text", "t middle", x=(min(xs) + max(xs)) / 2,
                        y=(min(ys) + max(ys)) / 2 + 0.36 * label_mm,
                        style=f"font-size:{label_mm:.2f}px")  # fmt: skip
            mark.text = str(cut.number)
    for seen in mishaps:
        if seen.at_mm is not None:
            (x, y), r = seen.at_mm, 1.8 * unit
            for dx, dy in ((r, r), (r, -r)):
                _add(main, "line", "cross", x1=x - dx, y1=y - dy, x2=x + dx, y2=y + dy,
                     stroke_width=0.8 * unit)  # fmt: skip
    return svg
