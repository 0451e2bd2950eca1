"""The written practice drawings, read back by the reader and measured against their rules."""

from __future__ import annotations

import math
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import numpy.typing as npt
import pytest
import shapely
from shapely.geometry import LineString

from companion.errors import ShopError
from companion.pattern.model import Pattern
from companion.pattern.options import ReadOptions
from companion.pattern.reader import read_pattern
from companion.planner.make import make_plan
from companion.planner.plan import Plan
from companion.planner.practice import drawing, lines_mode, outside_start
from companion.planner.practice_letters import skeleton
from companion.planner.project import Pin, ProjectSpec
from companion.shop.practice import Level, level, levels, plate
from companion.shop.settings import default_settings

Floats = npt.NDArray[np.float64]
FLAT_MM = 0.02
"""The reader's chords leave a curve by no more."""
GRID_MM = 0.002
ALL = [one.key for one in levels()]
OPEN = ["lines", "parallels", "waves", "zigzags", "spirals"]


@cache
def read(key: str) -> Pattern:
    of = level(key)
    with TemporaryDirectory() as folder:
        path = Path(folder) / "pattern.svg"
        path.write_text(drawing(of), encoding="utf-8")
        return read_pattern(path, ReadOptions(lines=lines_mode(of)))


@cache
def planned(key: str) -> Plan:
    of, start = level(key), outside_start(level(key))
    spec = ProjectSpec(of.project, Path(), Path(), ReadOptions(lines=lines_mode(of)))
    if start is not None:
        at = (start[0] + spec.margin_mm, start[1] + spec.margin_mm)
        spec = ProjectSpec(spec.name, Path(), Path(), spec.options, pins=(Pin(None, 1, at),))
    return make_plan(spec, read(key), default_settings())


def xy(line: LineString) -> Floats:
    """Points of a vein from the plate's edge inwards."""
    points: Floats = np.array(line.coords)
    return points if points[0].min() < points[-1].min() else points[::-1]


def veins(key: str) -> list[Floats]:
    """Top to bottom, then left to right."""
    return sorted((xy(v) for v in read(key).veins), key=lambda p: (p[0, 1], p[0, 0]))


def corners(ring: shapely.Polygon) -> Floats:
    """Corners of an opening without points in the middle of straight sides."""
    return np.array(shapely.get_coordinates(ring.simplify(0.005)))[:-1]


def angles_deg(points: Floats, closed: bool) -> Floats:
    """Angle between the two sides at each point."""
    if closed:
        before, after = np.roll(points, 1, axis=0), np.roll(points, -1, axis=0)
    else:
        before, after, points = points[:-2], points[2:], points[1:-1]
    a, b = before - points, after - points
    cosine = (a * b).sum(axis=1) / (np.hypot(*a.T) * np.hypot(*b.T))
    found: Floats = np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0)))
    return found


# ------------------------------------------------------------------- drawings


@pytest.mark.parametrize("key", ALL)
def test_the_same_level_is_the_same_drawing(key: str) -> None:
    assert drawing(level(key)) == drawing(level(key))


@pytest.mark.parametrize("key", [k for k in ALL if level(k).figure != "letters"])
def test_the_plate_keeps_its_edge_round_the_figures(key: str) -> None:
    pattern, by = read(key), plate()
    assert len(pattern.pieces) == 1
    x0, y0, x1, y1 = pattern.bounds_mm
    assert (x0, y0) == (0.0, 0.0)
    outline = pattern.pieces[0].shape.exterior
    lost = (4.0 - math.pi) * by.round_mm**2
    assert shapely.Polygon(outline).area == pytest.approx(x1 * y1 - lost, abs=FLAT_MM * 40)
    for opening in pattern.openings:
        assert opening.ring.distance(outline) >= by.edge_mm - FLAT_MM
    for vein in veins(key):
        # one end on the edge, the other as far inside as the table says
        assert min(vein[0]) == pytest.approx(0.0, abs=GRID_MM)
        assert shapely.Point(vein[-1]).distance(outline) >= by.edge_mm - FLAT_MM


@pytest.mark.parametrize("key", ["lines", "parallels"])
def test_lines_are_straight_level_and_spaced(key: str) -> None:
    m, found = level(key).measures, veins(key)
    assert all(len(v) == 2 for v in found)
    assert [float(v[1, 0] - v[0, 0]) for v in found] == pytest.approx([m["length_mm"]] * len(found))
    assert all(v[0, 1] == v[1, 1] for v in found)
    gaps = np.diff([v[0, 1] for v in found])
    assert gaps.tolist() == pytest.approx(m["gaps_mm"][1:], abs=GRID_MM)


def test_waves_have_the_radius_of_their_row() -> None:
    m, lead = level("waves").measures, plate().lead_mm
    for wave, r in zip(veins("waves"), m["radii_mm"], strict=True):
        curve = wave[wave[:, 0] > lead + 1e-6]
        assert np.ptp(wave[:, 1]) == pytest.approx(2 * r, abs=FLAT_MM)
        # centres stand every 2 r, a quarter above or below the line of inflection
        middle = wave[0, 1] - r
        first = lead
        k = np.round((curve[:, 0] - first) / (2 * r))
        off = np.hypot(curve[:, 0] - (first + 2 * r * k), curve[:, 1] - middle)
        assert np.abs(off - r).max() <= FLAT_MM
        # every quarter is there: the length counts them
        halves = round((curve[:, 0].max() - first) / (2 * r)) - 1
        steps = np.hypot(*np.diff(wave, axis=0).T).sum()
        assert steps == pytest.approx(lead + math.pi * r * (halves + 1), rel=0.003)
        assert wave[:, 0].max() <= m["length_mm"] + GRID_MM


def test_waves_have_no_corner() -> None:
    for wave in veins("waves"):
        # the reader's chords at the smallest radius bend by 2 acos(1 - 0.02 / 3.5) = 12 degrees
        assert angles_deg(wave, closed=False).min() > 180.0 - 13.0


def test_zigzags_have_the_angle_of_their_row() -> None:
    m = level("zigzags").measures
    for zigzag, angle in zip(veins("zigzags"), m["angles_deg"], strict=True):
        teeth = angles_deg(zigzag, closed=False)[1:]
        assert len(teeth) >= 5
        assert teeth.tolist() == pytest.approx([angle] * len(teeth), abs=0.03)
        legs = np.hypot(*np.diff(zigzag[1:], axis=0).T)
        assert legs.tolist() == pytest.approx([m["leg_mm"]] * len(legs), abs=GRID_MM)


def test_spirals_tighten_evenly() -> None:
    m = level("spirals").measures
    inner, turns = m["inner_mm"], m["turns"]
    for spiral, pitch in zip(veins("spirals"), m["pitches_mm"], strict=True):
        lead, coil = spiral[:1], spiral[1:]
        assert lead[0, 0] == pytest.approx(coil[0, 0], abs=GRID_MM)  # comes in along the tangent
        # it ends to the right of its centre when the turns end on a half
        centre = coil[-1] - [inner, 0.0]
        r = np.hypot(*(coil - centre).T)
        way = np.unwrap(np.arctan2(coil[:, 1] - centre[1], coil[:, 0] - centre[0]))
        wound = np.abs(way - way[0]) / (2 * np.pi)
        assert wound[-1] == pytest.approx(turns, abs=1e-4)
        assert np.abs(r - (inner + pitch * (turns - wound))).max() <= FLAT_MM
    # they hang at one height, the widest as far from the top edge as from the foot
    (plate,) = read("spirals").pieces
    low, high = (plate.shape.bounds[k] for k in (1, 3))
    widest = max((s[1:] for s in veins("spirals")), key=lambda coil: float(np.ptp(coil[:, 1])))
    outer = inner + max(m["pitches_mm"]) * turns
    ends = [s[-1, 1] for s in veins("spirals")]
    assert ends == pytest.approx([(low + high) / 2] * len(ends), abs=GRID_MM)
    assert widest[:, 1].min() - low >= (high - low) / 2 - outer - GRID_MM


def test_regular_openings_have_equal_sides_and_angles() -> None:
    m = level("squares").measures
    rings = [corners(o.ring) for o in read("squares").openings]
    wanted = [(n, size) for size in m["across_mm"] for n in m["corners"]]
    assert sorted(len(r) for r in rings) == sorted(n for n, _ in wanted)
    for ring in rings:
        n = len(ring)
        assert angles_deg(ring, closed=True).tolist() == pytest.approx([180 - 360 / n] * n, abs=0.1)
        sides = np.hypot(*(ring - np.roll(ring, 1, axis=0)).T)
        across = sides / math.sin(math.pi / n)
        nearest = min(m["across_mm"], key=lambda s: abs(s - across[0]))
        assert across.tolist() == pytest.approx([nearest] * n, abs=0.01)


def test_stars_have_the_points_of_the_table() -> None:
    m = level("stars").measures
    found = []
    for opening in read("stars").openings:
        ring = corners(opening.ring)
        assert len(ring) == 2 * m["points"]
        sharp = np.sort(angles_deg(ring, closed=True))[: m["points"]]
        assert np.ptp(sharp) < 0.05
        found.append(float(sharp.mean()))
        far = np.hypot(*(ring - ring.mean(axis=0)).T)
        assert np.sort(far)[m["points"] :].tolist() == pytest.approx(
            [m["radius_mm"]] * m["points"], abs=0.005
        )
    assert sorted(found) == pytest.approx(sorted(m["tips_deg"]), abs=0.05)


def test_threading_holes_stand_on_their_grid() -> None:
    m = level("threading").measures
    openings = read("threading").openings
    assert len(openings) == m["rows"] * m["columns"]
    centres = np.array([o.ring.centroid.coords[0] for o in openings])
    for axis, count in ((0, m["columns"]), (1, m["rows"])):
        lines = np.unique(centres[:, axis].round(2))
        assert len(lines) == count
        assert np.diff(lines).tolist() == pytest.approx([m["pitch_mm"]] * (count - 1), abs=0.02)
    for opening in openings:
        assert math.sqrt(4 * opening.ring.area / math.pi) == pytest.approx(
            m["diameter_mm"], abs=0.03
        )


def test_counters_have_the_area_of_their_size() -> None:
    m = level("counters").measures
    found = sorted(o.ring.area for o in read("counters").openings)
    wanted = sorted(
        area
        for s in m["sizes_mm"]
        for area in (math.pi * s**2 / 4, math.sqrt(3) / 4 * s**2, math.pi * s**2 / 8)
    )
    assert found == pytest.approx(wanted, rel=0.01)


def test_broad_letters_are_as_broad_as_the_pen_and_as_tall_as_told() -> None:
    m, pattern = level("letters").measures, read("letters")
    pen, tall = m["pen_mm"], m["height_mm"]
    by_place = sorted(pattern.pieces, key=lambda p: p.shape.bounds[0])
    assert [len(p.openings) for p in by_place] == [1, 1, 1, 1]  # R O A D
    o = by_place[m["word"].index("O")].shape
    x0, y0, x1, y1 = o.bounds
    assert y1 - y0 == pytest.approx(tall, abs=FLAT_MM)
    assert x1 - x0 == pytest.approx(0.7 * (tall - pen) + pen, abs=FLAT_MM)
    walls = [o.exterior.distance(shapely.Point(c)) for c in o.interiors[0].coords]
    assert walls == pytest.approx([pen] * len(walls), abs=2 * FLAT_MM)


def test_thin_letters_are_one_piece_on_their_bar() -> None:
    m, pattern = level("thin-letters").measures, read("thin-letters")
    assert len(pattern.pieces) == 1
    # counters of R, O, A, D; below A's bar and R's bowl the bar closes one more each
    assert len(pattern.openings) == 6
    necks = [n.thickness_mm for n in planned("thin-letters").necks]
    # where two legs meet on the bar the notch between them leaves a little less than the pen
    assert 0.9 * m["pen_mm"] < min(necks) < m["pen_mm"] + 0.01
    assert any(abs(n - m["pen_mm"]) < 0.01 for n in necks)


def test_a_letter_that_is_not_drawn_is_refused() -> None:
    with pytest.raises(ShopError, match="no practice letter"):
        skeleton("?", (0.0, 0.0), 10.0)


# ---------------------------------------------------------------------- plans


@pytest.mark.parametrize("key", ALL)
def test_every_level_plans_without_a_stop(key: str) -> None:
    plan = planned(key)
    assert not plan.has_stop
    assert len(plan.cuts) == plan.pieces + plan.openings + len(read(key).veins)
    assert {f.code for f in plan.findings if f.severity == "warn"} <= {"hold-too-small"}


@pytest.mark.parametrize("key", OPEN)
def test_open_lines_are_single_kerfs_entered_from_the_waste(key: str) -> None:
    plan, pattern = planned(key), read(key)
    cuts = [c for c in plan.cuts if c.is_vein]
    assert len(cuts) == len(pattern.veins) > 0
    lengths = sorted(v.length for v in pattern.veins)
    assert sorted(c.length_mm / 2 for c in cuts) == pytest.approx(lengths, abs=0.01)
    outline = next(shapely.Polygon(c.line_mm) for c in plan.cuts if c.side == "outside")
    for cut in cuts:
        assert cut.line_mm == cut.line_mm[::-1]  # out and back in one kerf
        assert not outline.contains(shapely.Point(cut.lead_mm[0]))  # no hole stays visible
        (step,) = [s for s in plan.steps if s.stage == "cut" and s.cut == cut.number]
        assert "back out" in step.say
    assert max(c.number for c in cuts) < max(c.number for c in plan.cuts if not c.is_vein)


def test_levels_ask_for_the_turns_they_train() -> None:
    """Under a beginner's rules, which the default settings have."""

    def turns(key: str) -> dict[str, int]:
        found: dict[str, int] = {}
        for cut in planned(key).cuts:
            if cut.side == "inside":
                for turn in cut.turns:
                    found[turn.technique] = found.get(turn.technique, 0) + 1
        return found

    assert turns("squares").get("spin", 0) > 3 * turns("squares").get("back-out", 0)
    stars = level("stars").measures
    # of each star's points at most one is where the cut starts
    assert turns("stars")["back-out"] >= len(stars["tips_deg"]) * (stars["points"] - 1)


def test_zigzags_are_spun_at_every_point_and_waves_nowhere() -> None:
    """A beginner steers up to 33 degrees: only the lead into the bluntest row bends less."""
    angles = level("zigzags").measures["angles_deg"]
    cuts = sorted((c for c in planned("zigzags").cuts if c.is_vein), key=lambda c: c.start_mm[1])
    for cut, angle, zigzag in zip(cuts, angles, veins("zigzags"), strict=True):
        assert {t.technique for t in cut.turns} == {"spin"}
        leads = 1 if (180.0 - angle) / 2 > 33.0 else 0
        assert len(cut.turns) == len(zigzag) - 3 + leads
        bends = [t.angle_deg for t in cut.turns[leads:]]
        assert bends == pytest.approx([180.0 - angle] * len(bends), abs=0.1)
        assert cut.turns[-1].along_mm < cut.length_mm / 2  # all on the way out
    assert not any(c.turns for c in planned("waves").cuts if c.is_vein)
    assert not any(c.turns for c in planned("spirals").cuts if c.is_vein)


def test_levels_grow_harder() -> None:
    """Radii, angles and gaps fall within a level."""
    falling = {"waves": "radii_mm", "zigzags": "angles_deg", "spirals": "pitches_mm",
               "stars": "tips_deg", "counters": "sizes_mm", "squares": "corners"}  # fmt: skip
    for key, name in falling.items():
        values = level(key).measures[name]
        assert values == sorted(values, reverse=True) and len(set(values)) == len(values)


def test_the_table_names_a_source_for_each_level() -> None:
    def told(of: Level) -> bool:
        return bool(of.source and of.trust and of.trains and of.judge)

    assert all(told(of) for of in levels()) and len(levels()) >= 10
