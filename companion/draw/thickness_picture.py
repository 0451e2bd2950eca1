"""A picture of thickness: tone and line weight along the middle of every piece.

The thinner the wood, the darker and heavier the line, so that the eye goes where the
piece is weak; on a terminal the thinner, the denser the dots. The ten weakest necks,
one a place, are numbered, and a list tells thickness and snap force. The steps of the scale are the
shop table's thin and fragile necks, in board thicknesses, and twice the board.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from companion.draw import marks
from companion.draw.cells import DOTS, Frame, Ink, Mode, View, fill, paint
from companion.draw.labels import Wanted, place_labels
from companion.draw.scene import Line, Scene
from companion.draw.svg import NAMESPACE, add_labels, number_text, path_data
from companion.findings import Point
from companion.pattern.model import Pattern
from companion.planner.plan import Neck, neck_name
from companion.planner.weak import ThicknessMap, WeakResult
from companion.shop import tables
from companion.words import ENGLISH, Words

MOST_NECKS = 10
PAD_MM = 12.0
TEXT_MM = 3.2
TONES = ("#000000", "#4d4d4d", "#8c8c8c", "#bdbdbd")
"""Thin to thick; the two thin ones stand out from paper by more than 7:1."""
WEIGHTS_MM = (1.4, 0.9, 0.5, 0.25)
"""Of the lines, thin to thick wood: tone is never the only sign."""
SPARSE = (1, 2, 4, 8)
"""On a terminal one of so many dots is set, thin to thick."""


@dataclass(frozen=True, slots=True)
class Scale:
    """Where one step of the picture ends and the next begins."""

    edges_mm: tuple[float, float, float]
    """Thicknesses, ascending."""

    def step(self, thickness_mm: float) -> int:
        """0 for the thinnest to 3."""
        return sum(thickness_mm >= edge for edge in self.edges_mm)

    def names(self, words: Words) -> tuple[str, str, str, str]:
        """What each step means."""
        a, b, c = (number_text(round(e, 2)) for e in self.edges_mm)
        return (
            words.say("under {a} mm", a=a), words.say("{a} to {b} mm", a=a, b=b),
            words.say("{a} to {b} mm", a=b, b=c), words.say("over {a} mm", a=c),
        )  # fmt: skip


def scale_for(board_mm: float) -> Scale:
    """The steps for a board of some thickness."""
    fragile, thin = tables.limit("neck-fragile").value, tables.limit("neck-thin").value
    return Scale((fragile * board_mm, thin * board_mm, 2.0 * thin * board_mm))


def neck_lines(necks: list[tuple[int, Neck]], words: Words = ENGLISH) -> list[str]:
    """The list below the picture: name, thickness, force.

    Args:
        necks: with their numbers, weakest first.
        words: the language.
    """
    lines = []
    for number, neck in necks:
        thick = f"{neck.thickness_mm:.2f}"
        if neck.force_n is None:
            lines.append(words.say("{n}: {thick} mm", n=neck_name(number), thick=thick))
        else:
            lines.append(
                words.say(
                    "{n}: {thick} mm, breaks at {force} N, the weight of {weight}",
                    n=neck_name(number), thick=thick, weight=words.weight(neck.force_n),
                    force=f"{neck.force_n:.2g}" if neck.force_n < 10 else f"{neck.force_n:.0f}",
                )
            )  # fmt: skip
    return lines


# ------------------------------------------------------------------- SVG


def thickness_svg(
    pattern: Pattern, found: WeakResult, board_mm: float, title: str = "", words: Words = ENGLISH
) -> str:
    """The picture as an SVG document of true size.

    Args:
        pattern: what was read, at least one piece.
        found: its necks and thickness maps, pattern mm.
        board_mm: thickness of the board.
        title: for the document's title.
        words: the language of legend and list.
    """
    x0, y0, x1, y1 = pattern.bounds_mm
    shift = (PAD_MM - x0, PAD_MM - y0)
    page = (x1 - x0 + 2 * PAD_MM, y1 - y0 + 2 * PAD_MM)
    scale = scale_for(board_mm)
    scene = _numbered(pattern, found, shift, page)
    box = scene.bounds_mm
    notes = neck_lines(found.weakest(MOST_NECKS), words)
    top = box[3] + 2 * TEXT_MM
    height = top - box[1] + TEXT_MM * 1.5 * (len(notes) + len(TONES) + 1)
    width = max(box[2] - box[0], 110.0)
    root = ET.Element(
        "svg",
        {
            "xmlns": NAMESPACE, "width": f"{number_text(width)}mm",
            "height": f"{number_text(height)}mm",
            "viewBox": " ".join(number_text(v) for v in (box[0], box[1], width, height)),
            "fill": "none", "stroke": "black", "stroke-linejoin": "round",
            "stroke-linecap": "round",
        },
    )  # fmt: skip
    if title:
        ET.SubElement(root, "title").text = title
    ground = {"x": number_text(box[0]), "y": number_text(box[1])}
    ET.SubElement(root, "rect", {**ground, "width": number_text(width),
                                 "height": number_text(height), "fill": "white",
                                 "stroke": "none"})  # fmt: skip
    _outlines(root, pattern, shift)
    _strokes(root, found.maps, scale, shift)
    _marks(root, scene)
    _legend(root, scale.names(words), notes, (box[0] + PAD_MM, top))
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + ET.tostring(root, encoding="unicode") + "\n"


def _moved(points: object, shift: Point) -> tuple[Point, ...]:
    return tuple((float(p[0]) + shift[0], float(p[1]) + shift[1]) for p in np.asarray(points))


def _numbered(pattern: Pattern, found: WeakResult, shift: Point, page: Point) -> Scene:
    """Outlines, rings around the weakest necks, and their numbers."""
    lines = [
        Line("piece-line", _moved(ring.coords, shift))
        for piece in pattern.pieces
        for ring in (piece.shape.exterior, *piece.shape.interiors)
    ]
    # drawn elsewhere in their tones; here they keep the numbers off
    lines += [
        Line("lead", _moved(stroke, shift)) for chart in found.maps for stroke in chart.strokes_mm
    ]
    weak = found.weakest(MOST_NECKS)
    places = [_moved([n.at_mm], shift)[0] for _, n in weak]
    radii = [0.5 * n.thickness_mm + 0.8 for _, n in weak]
    rings = [Line("neck", marks.ring(at, r)) for at, r in zip(places, radii, strict=True)]
    wanted = [
        Wanted("number", neck_name(number), at, r, None)
        for (number, _), at, r in zip(weak, places, radii, strict=True)
    ]
    scene, _ = place_labels(Scene(*page, lines=(*lines, *rings)), wanted)
    return scene


def _outlines(root: ET.Element, pattern: Pattern, shift: Point) -> None:
    """Pieces, pale, with a fine outline."""
    group = ET.SubElement(
        root, "g", {"id": "pieces", "fill": "#f2f2f2", "fill-rule": "evenodd",
                    "stroke-width": "0.15"},
    )  # fmt: skip
    for piece in pattern.pieces:
        rings = [_moved(r.coords, shift) for r in (piece.shape.exterior, *piece.shape.interiors)]
        ET.SubElement(group, "path", {"id": f"piece-{piece.number}", "d": path_data(rings)})


def _strokes(root: ET.Element, maps: tuple[ThicknessMap, ...], scale: Scale, shift: Point) -> None:
    """The middle of every piece, cut where the scale changes; the thin ones on top."""
    runs: list[list[tuple[Point, ...]]] = [[] for _ in TONES]
    for chart in maps:
        for places, thick in zip(chart.strokes_mm, chart.thickness_mm, strict=True):
            xy = _moved(places, shift)
            steps = [scale.step(float(min(a, b))) for a, b in zip(thick, thick[1:], strict=False)]
            start = 0
            for k in range(1, len(steps) + 1):
                if k == len(steps) or steps[k] != steps[start]:
                    runs[steps[start]].append(xy[start : k + 1])
                    start = k
    for step in reversed(range(len(TONES))):
        if runs[step]:
            ET.SubElement(
                root, "path", {"id": f"thickness-{step}", "d": path_data(runs[step]),
                               "stroke": TONES[step],
                               "stroke-width": number_text(WEIGHTS_MM[step])},
            )  # fmt: skip


def _marks(root: ET.Element, scene: Scene) -> None:
    """Rings, leaders and numbers of the weakest necks."""
    for role, width in (("neck", "0.3"), ("leader", "0.15")):
        d = path_data(line.points_mm for line in scene.lines if line.role == role)
        if d:
            ET.SubElement(root, "path", {"id": role, "d": d, "stroke-width": width})
    add_labels(root, scene.labels)


def _legend(root: ET.Element, names: tuple[str, ...], notes: list[str], at: Point) -> None:
    """What the tones mean, then the list of necks."""
    text = ET.SubElement(
        root, "g", {"fill": "black", "stroke": "none", "font-family": "sans-serif",
                    "font-size": number_text(TEXT_MM)},
    )  # fmt: skip
    x, y = at
    for step, name in enumerate(names):
        line = path_data([((x, y - 0.35 * TEXT_MM), (x + 10.0, y - 0.35 * TEXT_MM))])
        ET.SubElement(root, "path", {"d": line, "stroke": TONES[step],
                                     "stroke-width": number_text(WEIGHTS_MM[step])})  # fmt: skip
        _say(text, (x + 13.0, y), name)
        y += 1.5 * TEXT_MM
    for note in notes:
        _say(text, (x, y), note)
        y += 1.5 * TEXT_MM


def _say(group: ET.Element, at: Point, text: str) -> None:
    ET.SubElement(group, "text", {"x": number_text(at[0]), "y": number_text(at[1])}).text = text


# -------------------------------------------------------------- terminal


def thickness_cells(
    pattern: Pattern, found: WeakResult, board_mm: float, columns: int, rows: int, mode: Mode
) -> Frame:
    """The picture on terminal cells, the numbers of the weakest necks on it.

    Args:
        pattern: what was read, at least one piece.
        found: its necks and thickness maps, pattern mm.
        board_mm: thickness of the board.
        columns: of the picture.
        rows: of the picture.
        mode: which canvas.
    """
    view = View.around(pattern.bounds_mm, columns, rows)
    down, across = DOTS[mode]
    inside = np.zeros((rows * down, columns * across), dtype=np.int32)
    inks = np.zeros_like(inside)
    scale = scale_for(board_mm)
    for piece, chart in zip(pattern.pieces, found.maps, strict=True):
        inside[:] = 0
        fill(inside, view.dots(np.asarray(piece.shape.exterior.coords), mode), 1)
        for ring in piece.shape.interiors:
            fill(inside, view.dots(np.asarray(ring.coords), mode), 0)
        y, x = np.nonzero(inside)
        if not len(y):
            continue
        step = _steps_of(chart, scale, view, mode, np.column_stack((x, y)) + 0.5)
        every = np.array(SPARSE)[step]
        on = ((x + 3 * y) % every == 0) if mode == "braille" else step <= 1
        inks[y[on], x[on]] = np.where(step[on] == 0, Ink.NECK, Ink.LATER)
    frame = paint(np.zeros_like(inks), inks, mode)
    signs = frame.signs.copy()
    for number, neck in reversed(found.weakest(MOST_NECKS)):
        column, row = view.cell(neck.at_mm)
        # a blank on either side, or the number drowns in the dots
        for k, sign in enumerate(f" {neck_name(number)} ", column - 1):
            if 0 <= row < rows and 0 <= k < columns:
                signs[row, k] = sign
    return Frame(signs, frame.ink, frame.area)


def _steps_of(
    chart: ThicknessMap, scale: Scale, view: View, mode: Mode, dots: np.ndarray
) -> np.ndarray:
    """Step of the scale at dots: that of the nearest place of the axis."""
    places = np.concatenate([np.array([chart.middle_mm]), *chart.strokes_mm])
    thick = np.concatenate([np.array([chart.most_mm]), *chart.thickness_mm])
    _, near = cKDTree(view.dots(places, mode)).query(dots)
    steps = np.array([scale.step(float(t)) for t in thick])
    result: np.ndarray = steps[near]
    return result
