"""The finishing table: what is done, in which order, and what dries."""

from __future__ import annotations

import re
import shutil
from dataclasses import replace
from pathlib import Path
from typing import cast

import pytest
from shapely.geometry import box

from companion.errors import ProjectError, ShopError
from companion.journal.store import Journal
from companion.planner.make import make_plan
from companion.planner.project import ProjectSpec, load_project
from companion.session.machine import Machine
from companion.session.model import Done
from companion.session.texts import shop_texts
from companion.session.walk import Walk
from companion.shop import tables
from companion.shop.finishing import COATS, DRESSED, Coat, Finish, finishing, rows
from companion.shop.settings import default_settings
from tests.planner.drawn import pattern_of
from tests.planner.test_steps import SIGN, check
from tests.session.test_walk import Hands

EVERY = [(family, coat) for family in tables.FAMILIES for coat in COATS]
RING = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="4mm" height="4mm"><path d="M0 0h9v9z"/></svg>'
)


def keys(family: str, finish: Finish, stacked: bool = False) -> list[str]:
    return [s.key for s in finishing(family, finish, stacked)]


@pytest.mark.parametrize(("family", "coat"), EVERY)
def test_every_finish_has_an_order_that_can_be_done(family: str, coat: str) -> None:
    found = keys(family, Finish(cast(Coat, coat)))
    if coat == "raw":
        assert found == []
        return
    assert found[0] == "pattern-off"
    # nothing is sanded after the last coat, and dust is off before anything wet
    steps = finishing(family, Finish(cast(Coat, coat)))
    wet = [s.key for s in steps if s.wait_min and s.key != "fill"]
    if coat == "none":
        assert wet == [] and found[-1] in ("edges", "openings")
    else:
        assert wet[0] == "dust-off"
        assert found[-1] == wet[-1]
        assert found.index("edges") < found.index("dust-off")


@pytest.mark.parametrize(("family", "coat"), EVERY)
def test_the_back_is_masked_before_any_coat_where_a_backing_will_be_glued(
    family: str, coat: str
) -> None:
    found = keys(family, Finish(cast(Coat, coat), backing=True))
    coats = ("seal", "knots", "prime", "paint-first", "varnish-first", "oil-on")
    wet = [found.index(k) for k in coats if k in found]
    assert ("bare-back" in found) == bool(wet)
    if wet:
        assert found.index("bare-back") < min(wet) and found.index("backing") > max(wet)
    assert "bare-back" not in keys(family, Finish(cast(Coat, coat)))


@pytest.mark.parametrize("family", tables.FAMILIES)
def test_the_mask_is_on_before_anything_is_sanded(family: str) -> None:
    steps = finishing(family, Finish("paint"))
    first = next(s for s in steps if "grit" in s.say)
    assert first.say.startswith("Mask on.") and "extraction" in first.why


def test_fibre_board_is_sealed_before_paint_and_wood_is_not() -> None:
    fibre = keys("fibre", Finish("paint"))
    assert fibre.index("seal") < fibre.index("seal-sand") < fibre.index("prime")
    assert fibre.index("prime") < fibre.index("paint-first") < fibre.index("paint-second")
    assert "seal" not in keys("hardwood", Finish("paint"))
    assert "seal" not in keys("fibre", Finish("oil"))
    soft = keys("softwood", Finish("paint"))
    assert soft.index("dust-off") < soft.index("knots") < soft.index("prime")


def test_conditions_bring_their_steps() -> None:
    assert "part-stack" == keys("fibre", Finish(), stacked=True)[0]
    both = keys("plywood", Finish("none", hanging=True, backing=True))
    assert both[-2:] == ["backing", "hanger"]
    assert "backing" not in keys("plywood", Finish("none", hanging=True))


def test_grits_rise_within_a_finish() -> None:
    """A finer grit never comes before a coarser one on the same face."""
    for row in rows():
        grits = [int(n) for n in re.findall(r"\b(\d{3})\b", row.say)]
        assert grits == sorted(grits), row.say


def test_every_row_is_used_by_some_finish_and_can_be_said() -> None:
    used = {
        s.key for family, coat in EVERY for s in finishing(family, Finish(coat, True, True), True)
    }
    assert used == {r.key for r in rows()}
    for row in rows():
        assert len(row.say.split()) <= 12 and row.say.endswith("."), row.say
        assert row.say[0].isupper() and row.why.endswith(".")
        assert len(row.title.split()) <= 4


def test_nothing_is_put_on_that_was_not_asked_for() -> None:
    for family in tables.FAMILIES:
        assert not [s for s in finishing(family) if s.wait_min]


def test_what_dries_is_named_by_a_noun() -> None:
    """At the saw "Dry: ..." is told of it."""
    for row in rows():
        if row.wait_min:
            assert row.title.split()[0] != row.say.split()[0], row.title
            assert row.title.split()[-1] not in ("on", "off"), row.title


def test_what_is_done_once_for_a_batch_does_not_grow_by_the_piece() -> None:
    """Ten ornaments together: one brush is washed, ten are painted, one drying is waited for."""
    painted = finishing("fibre", Finish("paint"))
    for step in painted:
        one, ten = step.worked_min(1.0), step.worked_min(10.0)
        # each piece takes its own minutes, and something was taken out or put away once
        assert ten - one == pytest.approx(9 * step.minutes)
        assert one < ten < 10 * one and step.minutes > 0.0 and step.batch_min > 0.0
    prime = next(s for s in painted if s.key == "prime")
    assert (prime.worked_min(1.0), prime.worked_min(10.0)) == (12.0, 66.0)
    assert [s.lays for s in painted if s.lays] == ["edges", "all", "all", "all"]
    assert not [s for s in rows() if s.lays and s.coats == DRESSED]


def test_a_plan_of_ten_ornaments_counts_what_is_done_once_once() -> None:
    """Ten squares with a hole each, of 120 mm of line: a fifth of a whole piece's work each."""
    squares = [
        (box(x, y, x + 20, y + 20), [box(x + 5, y + 5, x + 15, y + 15)], None)
        for x in range(0, 150, 30)
        for y in (0, 30)
    ]
    spec = replace(
        ProjectSpec("test", Path(), Path("x.svg"), material="mdf"), finish=Finish("paint")
    )
    plan = make_plan(spec, pattern_of(*squares), default_settings())
    assert plan.pieces == 10
    told = {s.title: s.minutes.likely for s in plan.steps if s.stage == "finish"}
    for step in finishing("fibre", spec.finish):
        assert told[step.title] == pytest.approx(step.batch_min + 2.0 * step.minutes, abs=0.01)
    assert [s.wait_min for s in plan.steps if s.title == "Primer"] == [120.0]


def test_oiled_cloths_are_warned_of() -> None:
    (off,) = [r for r in rows() if r.key == "oil-off"]
    assert "cloths" in off.say and "catch fire" in off.why


@pytest.mark.parametrize("coat", COATS)
def test_plans_carry_the_finish_with_its_drying(coat: str) -> None:
    spec = replace(
        ProjectSpec("test", Path(), Path("x.svg"), material="mdf"),
        finish=Finish(cast(Coat, coat), hanging=True),
    )
    plan = make_plan(spec, SIGN, default_settings())
    check(plan)
    told = [s for s in plan.steps if s.stage == "finish"]
    asked = finishing("fibre", spec.finish)
    assert [(s.title, s.wait_min) for s in told] == [(a.title, a.wait_min) for a in asked]
    # drying is left to the label; a soak or a damp cloth has none
    assert all(("label" in s.why) == (s.wait_min >= 30) for s in told)
    assert all(f"Wait {s.wait_min:g} min" in s.why for s in told if 0 < s.wait_min < 30)
    assert [s.title for s in told][-1:] == ([] if coat == "raw" else ["Hanger on"])


def test_project_toml_names_the_finish(tmp_path: Path) -> None:
    (tmp_path / "p.svg").write_text(RING, encoding="utf-8")
    text = '[project]\npattern = "p.svg"\n[finish]\ncoat = "oil"\nhanging = true\n'
    (tmp_path / "project.toml").write_text(text, encoding="utf-8")
    assert load_project(tmp_path).finish == Finish("oil", hanging=True)
    (tmp_path / "project.toml").write_text(text.replace("oil", "tar"), encoding="utf-8")
    with pytest.raises(ProjectError, match=r"finish.coat must be paint or varnish"):
        load_project(tmp_path)
    (tmp_path / "project.toml").write_text(text.replace("hanging", "hangs"), encoding="utf-8")
    with pytest.raises(ProjectError, match=r"finish.hangs is unknown"):
        load_project(tmp_path)


@pytest.mark.parametrize(
    ("was", "now", "told"),
    [
        ('needs = "stack"', 'needs = "luck"', "needs"),
        ('coats = ["oil"]', 'coats = ["tar"]', "coats"),
        ("v = 720.0", "v = -1.0", "out of range"),
        ('v = 120.0, s = "practice"', 'v = 120.0, s = "hearsay"', "source"),
        ("batch_min =", "batch_hours =", "batch_min: is missing"),
        ('lays = "all"', 'lays = "some"', "lays: knows all, edges"),
    ],
)
def test_a_spoilt_table_is_told(tmp_path: Path, was: str, now: str, told: str) -> None:
    shutil.copy(tables.DATA / "finishing.toml", tmp_path)
    path = tmp_path / "finishing.toml"
    text = path.read_text(encoding="utf-8")
    assert was in text
    path.write_text(text.replace(was, now, 1), encoding="utf-8")
    with pytest.raises(ShopError, match=told):
        rows(tmp_path)


def test_a_coat_goes_on_drying_while_the_sawyer_is_away() -> None:
    """Two hours of primer, looked at again after half an hour in a new session."""
    spec = replace(
        ProjectSpec("test", Path(), Path("x.svg"), material="mdf"), finish=Finish("paint")
    )
    plan = make_plan(spec, SIGN, default_settings())
    clock = Hands()
    with Journal(None) as journal:

        def sat() -> Walk:
            walk = Walk(Machine(plan, shop_texts(), "practised"), journal, clock)
            walk.begin()
            return walk

        walk = sat()
        primed = next(s.number for s in plan.steps if s.title == "Primer")
        while walk.state.ground != "step" or walk.state.step < primed:
            clock.go(30.0)
            walk.take(Done())
        (wet,) = [w for w in walk.drying() if w.title == "Primer"]
        assert wet.left_s == pytest.approx(120 * 60)
        walk.close()
        clock.sleep(30 * 60.0)
        (wet,) = [w for w in sat().drying() if w.title == "Primer"]
        assert wet.left_s == pytest.approx(90 * 60)
