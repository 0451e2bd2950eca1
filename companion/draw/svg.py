"""Paints a scene as SVG in real millimetres, one group a role, for a cutter or a projector.

Groups bear the role as id, so that a cutter's program can take ``piece-line`` alone and
hide the rest. Built with the XML library, so every text is escaped.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Iterable, Sequence

from companion.draw import marks
from companion.draw.frame import bar, bars_mm
from companion.draw.labels import HEIGHT_EM, box_mm
from companion.draw.pens import PENS
from companion.draw.scene import Label, Line, Scene
from companion.findings import Point

NAMESPACE = "http://www.w3.org/2000/svg"
PAD_MM = 3.0
BAR_GAP_MM = 8.0
FACE = "Helvetica, Arial, sans-serif"


def with_bars(scene: Scene) -> Scene:
    """The scene with the check bars under it."""
    left, _, _, bottom = scene.bounds_mm
    lines: list[Line] = []
    labels: list[Label] = []
    for i, (name, length) in enumerate(bars_mm()):
        y = bottom + BAR_GAP_MM * (i + 1)
        lines += [Line("bar", points) for points in bar((left, y), length)]
        width, height = box_mm(name, 3.0)
        labels.append(Label("bar", (left + length + 2 + width / 2, y), name, 3.0, (width, height)))
    return scene.add(lines, labels)


def svg_text(scene: Scene, title: str = "", bars: bool = True) -> str:
    """Write a scene as an SVG document.

    Args:
        scene: what to draw, numbers and hatch included if wanted.
        title: for the document's title element.
        bars: draw the 100 mm and 4 in check bars under the board.

    Returns:
        The document; equal scenes give equal text.
    """
    full = with_bars(scene) if bars else scene
    x0, y0, x1, y1 = full.bounds_mm
    x0, y0 = x0 - PAD_MM, y0 - PAD_MM
    width, height = x1 - x0 + PAD_MM, y1 - y0 + PAD_MM
    root = ET.Element(
        "svg",
        {
            "xmlns": NAMESPACE,
            "width": f"{number_text(width)}mm",
            "height": f"{number_text(height)}mm",
            "viewBox": " ".join(number_text(v) for v in (x0, y0, width, height)),
            "fill": "none",
            "stroke": "black",
            "stroke-linejoin": "round",
        },
    )
    if title:
        ET.SubElement(root, "title").text = title
    for role, pen in PENS.items():
        lines = full.of(role)
        discs = [d for d in full.discs if d.role == role]
        boxed = [lb for lb in full.labels if lb.role == role == "note"]
        if not (lines or discs or boxed):
            continue
        attributes = {"id": role, "stroke-width": number_text(pen.width_mm)}
        if pen.dash_mm:
            attributes["stroke-dasharray"] = " ".join(number_text(d) for d in pen.dash_mm)
        group = ET.SubElement(root, "g", attributes)
        if role == "piece-line":
            for line in lines:
                d = path_data([line.points_mm])
                ET.SubElement(group, "path", {"id": f"cut-{line.cut}", "d": d})
        elif lines:
            ET.SubElement(group, "path", {"d": path_data(line.points_mm for line in lines)})
        for label in boxed:
            (x, y), (w, h) = label.at_mm, label.box_mm
            ET.SubElement(group, "path", {"d": path_data([marks.box(x - w / 2, y - h / 2, w, h)])})
        for disc in discs:
            place = {"cx": number_text(disc.at_mm[0]), "cy": number_text(disc.at_mm[1])}
            ET.SubElement(group, "circle", {**place, "r": number_text(disc.radius_mm)})
    add_labels(root, full.labels)
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + ET.tostring(root, encoding="unicode") + "\n"


def add_labels(root: ET.Element, labels: Iterable[Label]) -> None:
    """Write labels as text, centred in their boxes."""
    group = ET.SubElement(
        root,
        "g",
        {"id": "labels", "fill": "black", "stroke": "none", "font-family": FACE,
         "text-anchor": "middle"},
    )  # fmt: skip
    for label in labels:
        base = label.at_mm[1] + (HEIGHT_EM / 2 - 0.01) * label.size_mm
        text = ET.SubElement(
            group,
            "text",
            {"x": number_text(label.at_mm[0]), "y": number_text(base),
             "font-size": number_text(label.size_mm)},
        )  # fmt: skip
        text.text = label.text


def path_data(polylines: Iterable[Sequence[Point]]) -> str:
    """Path data of polylines; closed when the last point is the first.

    >>> path_data([((0, 0), (1, 0), (1, 2.5), (0, 0)), ((3, 3), (4, 4))])
    'M0 0L1 0 1 2.5ZM3 3L4 4'
    """
    parts = []
    for points in polylines:
        closed = len(points) > 2 and points[0] == points[-1]
        shown = points[:-1] if closed else points
        text = [f"{number_text(x)} {number_text(y)}" for x, y in shown]
        parts.append(f"M{text[0]}L{' '.join(text[1:])}{'Z' if closed else ''}")
    return "".join(parts)


def number_text(value: float) -> str:
    """A coordinate to a micrometre, without idle zeros.

    >>> number_text(1.50004), number_text(-0.0), number_text(12)
    ('1.5', '0', '12')
    """
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text
