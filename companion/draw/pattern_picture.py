"""A picture of what was read: pieces, openings, waste, findings, and the true size.

For ``kerfside check --svg``. Kept wood is grey and plain, openings are white with
stripes, waste around is white with dots, so that a one-bit print still tells them
apart. Every piece (P1, P2, ...) and opening is numbered as project.toml's pins name
them; places of findings bear the letters of the lists; two bars give width and height.
The picture is scaled to a handy size, the bars tell the true one.
"""

from __future__ import annotations

import textwrap
import xml.etree.ElementTree as ET
from collections.abc import Callable, Iterable

from shapely.geometry import Polygon

from companion.draw import marks
from companion.draw.frame import BAR_TICK_MM
from companion.draw.grouping import sentences
from companion.draw.labels import LEADER_SIZE_MM, Wanted, box_mm, place_labels
from companion.draw.pens import HAIRLINE_MM
from companion.draw.scene import Label, Line, Role, Scene
from companion.draw.svg import NAMESPACE, add_labels, number_text, path_data
from companion.findings import Finding, Point, lettered
from companion.pattern.model import Opening, Pattern
from companion.words import ENGLISH, Words

Place = Callable[[Iterable[tuple[float, ...]]], tuple[Point, ...]]
"""From pattern mm to picture mm."""
LONG_SIDE_MM = 220.0
"""Longer side of the drawn pattern."""
PAD_MM = 16.0
"""Around it: the size bars stand there."""
MOST_LETTERS = 40
KEPT_GREY = "#cfcfcf"
TEXT_MM = 3.2


def pattern_picture(
    pattern: Pattern,
    title: str = "",
    found: Iterable[Finding] | None = None,
    words: Words = ENGLISH,
) -> str:
    """Draw a pattern as an SVG document.

    Args:
        pattern: what was read, at least one piece.
        title: for the document's title.
        found: what is lettered, in order, pattern mm; None: what the reader found.
        words: the language.

    Returns:
        The document; equal patterns give equal text.
    """
    x0, y0, x1, y1 = pattern.bounds_mm
    width, height = x1 - x0, y1 - y0
    scale = LONG_SIDE_MM / max(width, height)

    def place(points: Iterable[tuple[float, ...]]) -> tuple[Point, ...]:
        return tuple((PAD_MM + scale * (p[0] - x0), PAD_MM + scale * (p[1] - y0)) for p in points)

    page = (scale * width + 2 * PAD_MM, scale * height + 2 * PAD_MM)
    scene = Scene(*page, lines=tuple(_lines(pattern, place)))
    told = pattern.findings if found is None else found
    notes = [
        (
            name,
            place([at])[0],
            " ".join(dict.fromkeys(sentences(words.told(f.text))[0] for f in here)),
        )
        for name, at, here in lettered(told)[:MOST_LETTERS]
    ]
    wanted = _wanted(pattern, place, scale)
    wanted += [Wanted("note", name, at, 0.8, None) for name, at, _ in notes]
    scene = scene.add([Line("note", marks.ring(at, 0.8)) for _, at, _ in notes])
    scene, _ = place_labels(scene, wanted)
    sizes = tuple(
        words.length(v) if words.inch else f"{number_text(round(v, 2))} mm" for v in (width, height)
    )
    texts = [_legend(pattern, words), *(f"{n}  {t}" for n, _, t in notes)]
    return _document(pattern, scene, place, (sizes[0], sizes[1]), texts, title)


def _legend(pattern: Pattern, words: Words) -> str:
    """What the tones mean."""
    return words.say(
        "{pieces} (grey, P), {openings} (striped), waste dotted",
        pieces=words.count("{n} piece", "{n} pieces", len(pattern.pieces)),
        openings=words.count("{n} opening", "{n} openings", len(pattern.openings)),
    )  # fmt: skip


def _lines(pattern: Pattern, place: Place) -> list[Line]:
    """Every contour and vein."""
    found = []
    for piece in pattern.pieces:
        for ring in (piece.shape.exterior, *piece.shape.interiors):
            found.append(Line("piece-line", place(ring.coords)))
    return found + [Line("lead", place(vein.coords)) for vein in pattern.veins]


def _wanted(pattern: Pattern, place: Place, scale: float) -> list[Wanted]:
    """A number for every piece and opening, in its widest spot."""
    import shapely

    found = []
    for piece in pattern.pieces:
        for name, shape in (
            (f"P{piece.number}", piece.shape),
            *((str(o.number), _cleared(pattern, o)) for o in piece.openings),
        ):
            spot = shapely.maximum_inscribed_circle(shape, tolerance=0.5 / scale).coords[0]
            found.append(Wanted("number", name, place([spot])[0], 0.0, None, centred=True))
    return found


def _cleared(pattern: Pattern, opening: Opening) -> Polygon:
    """An opening without the pieces that lie in it."""
    inner = [p.shape.exterior for p in pattern.pieces if p.within == opening.number]
    return Polygon(opening.ring.exterior, inner) if inner else opening.ring


def _document(
    pattern: Pattern,
    scene: Scene,
    place: Place,
    sizes: tuple[str, str],
    notes: list[str],
    title: str,
) -> str:
    """Put the picture together."""
    box = scene.bounds_mm
    words: list[str] = []
    width = box[2] - box[0]
    for note in notes:
        words += textwrap.wrap(note, int((width - 2 * PAD_MM) / (0.55 * TEXT_MM))) or [""]
    height = box[3] - box[1] + TEXT_MM * 1.4 * (len(words) + 1)
    root = ET.Element(
        "svg",
        {
            "xmlns": NAMESPACE,
            "width": f"{number_text(width)}mm",
            "height": f"{number_text(height)}mm",
            "viewBox": " ".join(number_text(v) for v in (box[0], box[1], width, height)),
            "fill": "none",
            "stroke": "black",
            "stroke-linejoin": "round",
        },
    )
    if title:
        ET.SubElement(root, "title").text = title
    _patterns(root)
    ground = {"x": number_text(box[0]), "y": number_text(box[1])}
    whole = {**ground, "width": number_text(width), "height": number_text(height)}
    ET.SubElement(root, "rect", {**whole, "fill": "white", "stroke": "none"})
    _fill(root, pattern, place)
    _strokes(root, scene)
    _bars(root, pattern, place, sizes)
    add_labels(root, scene.labels)
    text = ET.SubElement(
        root, "g", {"fill": "black", "stroke": "none", "font-family": "sans-serif",
                    "font-size": number_text(TEXT_MM)},
    )  # fmt: skip
    for i, line in enumerate(words):
        at = {"x": number_text(box[0] + PAD_MM), "y": number_text(box[3] + TEXT_MM * 1.4 * (i + 1))}
        ET.SubElement(text, "text", at).text = line
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + ET.tostring(root, encoding="unicode") + "\n"


def _patterns(root: ET.Element) -> None:
    """Stripes for openings, dots for the waste around."""
    defs = ET.SubElement(root, "defs")
    for name, step in (("stripes", "1.6"), ("dots", "3")):
        tile = ET.SubElement(
            defs, "pattern", {"id": name, "width": step, "height": step,
                              "patternUnits": "userSpaceOnUse"},
        )  # fmt: skip
        if name == "stripes":
            tile.set("patternTransform", "rotate(45)")
            ET.SubElement(tile, "path", {"d": "M0 0L0 1.6", "stroke-width": "0.3"})
        else:
            dot = {"cx": "1.5", "cy": "1.5", "r": "0.18", "fill": "black", "stroke": "none"}
            ET.SubElement(tile, "circle", dot)


def _fill(root: ET.Element, pattern: Pattern, place: Place) -> None:
    """Waste, then pieces and openings in the order of their nesting."""
    x0, y0, x1, y1 = pattern.bounds_mm
    (ax, ay), (bx, by) = place([(x0, y0), (x1, y1)])
    pad = 5.0
    around = marks.box(ax - pad, ay - pad, bx - ax + 2 * pad, by - ay + 2 * pad)
    still = {"stroke": "none", "fill-rule": "evenodd"}
    outer = [place(p.shape.exterior.coords) for p in pattern.pieces if p.within is None]
    ET.SubElement(
        root, "path", {"id": "waste", "d": path_data([around, *outer]), "fill": "url(#dots)",
                       **still},
    )  # fmt: skip
    kept = ET.SubElement(root, "g", {"id": "pieces", "fill": KEPT_GREY, **still})
    for piece in pattern.pieces:
        rings = [place(r.coords) for r in (piece.shape.exterior, *piece.shape.interiors)]
        ET.SubElement(kept, "path", {"id": f"piece-{piece.number}", "d": path_data(rings)})
    cleared = ET.SubElement(root, "g", {"id": "openings", "fill": "url(#stripes)", **still})
    for opening in pattern.openings:
        inner = [
            place(p.shape.exterior.coords) for p in pattern.pieces if p.within == opening.number
        ]
        d = path_data([place(opening.ring.exterior.coords), *inner])
        ET.SubElement(cleared, "path", {"id": f"opening-{opening.number}", "d": d})


def _strokes(root: ET.Element, scene: Scene) -> None:
    """Contours, veins, leaders and the rings of findings."""
    roles: tuple[tuple[Role, float], ...] = (
        ("piece-line", HAIRLINE_MM), ("lead", 0.4), ("leader", 0.12), ("note", 0.3),
    )  # fmt: skip
    for role, width in roles:
        d = path_data(line.points_mm for line in scene.of(role))
        if d:
            ET.SubElement(root, "path", {"id": role, "d": d, "stroke-width": number_text(width)})
    boxes = ET.SubElement(root, "g", {"id": "halos", "fill": "white", "stroke": "none"})
    for label in scene.labels:
        (x, y), (w, h) = label.at_mm, label.box_mm
        frame = {"x": number_text(x - w / 2), "y": number_text(y - h / 2)}
        size = {"width": number_text(w), "height": number_text(h)}
        edge = {"stroke": "black", "stroke-width": "0.2"} if label.role == "note" else {}
        ET.SubElement(boxes, "rect", {**frame, **size, **edge})


def _bars(root: ET.Element, pattern: Pattern, place: Place, sizes: tuple[str, str]) -> None:
    """The true width under the pattern and the true height at its left."""
    x0, y0, x1, y1 = pattern.bounds_mm
    (ax, ay), (bx, by) = place([(x0, y0), (x1, y1)])
    level, upright, half = by + 9.0, ax - 9.0, BAR_TICK_MM / 2
    lines = [
        ((ax, level), (bx, level)),
        *(((x, level - half), (x, level + half)) for x in (ax, bx)),
        ((upright, ay), (upright, by)),
        *(((upright - half, y), (upright + half, y)) for y in (ay, by)),
    ]
    ET.SubElement(root, "path", {"id": "size-bars", "d": path_data(lines), "stroke-width": "0.25"})
    size = LEADER_SIZE_MM * 1.5
    at = ((ax + bx) / 2, level + 3.0)
    add_labels(root, [Label("bar", at, sizes[0], size, box_mm(sizes[0], size))])
    turned = ET.SubElement(
        root, "g", {"transform": f"translate({number_text(upright - 2.5)} "
                    f"{number_text((ay + by) / 2)}) rotate(-90)"},
    )  # fmt: skip
    add_labels(turned, [Label("bar", (0.0, 0.0), sizes[1], size, box_mm(sizes[1], size))])
