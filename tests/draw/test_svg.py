"""The scene as SVG: true size, by groups, and the same picture as the PDF."""

from __future__ import annotations

import io
import xml.etree.ElementTree as ET

import numpy as np
import pytest
import resvg_py
from PIL import Image
from shapely.geometry import LineString, Polygon

from companion.draw.paper import papers
from companion.draw.pattern_picture import pattern_picture
from companion.draw.scene import build_scene
from companion.draw.sheet import SheetOptions, drawn_scene
from companion.draw.svg import svg_text
from companion.findings import Finding
from companion.pattern.model import Opening, Pattern, Piece
from tests.draw.rendered import Ink
from tests.draw.sheet_plans import panel, plan_of

SVG = "{http://www.w3.org/2000/svg}"


def look(svg: str, dpi: int) -> Ink:
    """Ink of an SVG by an independent renderer (resvg) at a resolution."""
    root = ET.fromstring(svg)
    width = float(root.get("width", "").removesuffix("mm"))
    pixels = round(width * dpi / 25.4)
    png = bytes(resvg_py.svg_to_bytes(svg_string=svg, width=pixels, background="white", dpi=96))
    return np.asarray(Image.open(io.BytesIO(png)).convert("L")) < 128


def test_lines_and_bars_are_true_to_size() -> None:
    plan = plan_of(panel(4, 3))
    svg = svg_text(build_scene(plan), "a <title> & more")
    root = ET.fromstring(svg)
    box = [float(v) for v in root.get("viewBox", "").split()]
    assert float(root.get("width", "").removesuffix("mm")) == pytest.approx(box[2])
    assert float(root.get("height", "").removesuffix("mm")) == pytest.approx(box[3])
    assert root.findtext(f"{SVG}title") == "a <title> & more"
    ink = look(svg, 300)
    px = 300 / 25.4
    longest = [run for row in ink for run in runs(row)]
    assert any(abs(run / px - 100.2) < 0.1 for run in longest)  # 100 mm and the ticks' width
    assert any(abs(run / px - 101.8) < 0.1 for run in longest)


def runs(row: Ink) -> list[int]:
    edges = np.flatnonzero(np.diff(np.concatenate([[0], row.astype(int), [0]])))
    return [int(n) for n in edges[1::2] - edges[::2] if n > 500]


def test_each_cut_is_a_closed_path_of_its_own() -> None:
    plan = plan_of(panel(4, 3))
    root = ET.fromstring(svg_text(build_scene(plan)))
    group = next(g for g in root.iter(f"{SVG}g") if g.get("id") == "piece-line")
    paths = {p.get("id"): p.get("d", "") for p in group}
    assert set(paths) == {f"cut-{c.number}" for c in plan.cuts}
    for cut in plan.cuts:
        d = paths[f"cut-{cut.number}"]
        assert d.endswith("Z")
        numbers = [float(v) for v in d[1:-1].replace("L", " ").split()]
        places = list(zip(numbers[::2], numbers[1::2], strict=True))
        assert LineString([*places, places[0]]).hausdorff_distance(
            LineString(cut.line_mm)
        ) == pytest.approx(0.0, abs=0.001)


def test_equal_scenes_give_equal_text() -> None:
    plan = plan_of(panel(4, 3))
    texts = [svg_text(drawn_scene(plan, SheetOptions(), papers()["A4"])[0], "x") for _ in range(2)]
    assert texts[0] == texts[1]
    assert '<g id="labels"' in texts[0] and '<g id="hatch"' in texts[0]


def nested() -> Pattern:
    plate = panel(8, 5)
    rings = [Opening(i + 1, Polygon(r), 1) for i, r in enumerate(plate.interiors)]
    inside = Polygon(rings[0].ring.buffer(-3, join_style="mitre").exterior)
    finding = Finding("open-end-joined", "note", (41.0, 41.0), "Ends 0.05 mm apart <joined>.", "")
    return Pattern(
        (Piece(1, plate, tuple(rings), None), Piece(2, inside, (), 1)),
        (LineString([(5, 5), (30, 8)]),), (finding,), "0",
    )  # fmt: skip


def test_picture_tells_pieces_openings_and_waste_by_pattern_and_tone() -> None:
    pattern = nested()
    svg = pattern_picture(pattern, "Read")
    root = ET.fromstring(svg)
    fills = {
        name: next(e for e in root.iter() if e.get("id") == name).get("fill")
        for name in ("waste", "pieces", "openings")
    }
    assert fills == {"waste": "url(#dots)", "pieces": "#cfcfcf", "openings": "url(#stripes)"}
    words = {t.text for t in root.iter(f"{SVG}text")}
    assert {"P1", "P2", "180 mm", "120 mm", "A"} <= words
    assert {str(o.number) for o in pattern.openings} <= words
    assert "A Ends 0.05 mm apart <joined>." in {" ".join((w or "").split()) for w in words}


def test_picture_shows_what_is_kept_and_what_is_not() -> None:
    """Grey of the kept wood in an independent render against the areas of the pattern."""
    pattern = nested()
    svg = pattern_picture(pattern)
    png = bytes(resvg_py.svg_to_bytes(svg_string=svg, width=1600, background="white", dpi=96))
    grey = np.asarray(Image.open(io.BytesIO(png)).convert("L")).astype(int)
    box = [float(v) for v in ET.fromstring(svg).get("viewBox", "").split()]
    scale = 1600 / box[2] * 220.0 / 180.0  # pixels per pattern mm
    kept = float((abs(grey - 0xCF) < 3).sum()) / scale**2
    # numbers on white boxes and line edges cost a little
    assert kept == pytest.approx(pattern.kept_area_mm2, rel=0.02)


def test_picture_is_the_same_each_time() -> None:
    assert pattern_picture(nested(), "t") == pattern_picture(nested(), "t")
