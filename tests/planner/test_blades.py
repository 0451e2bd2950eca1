"""Choice of blade, speed and number of blades."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.errors import ShopError
from companion.planner.blades import (
    BladeChosen,
    Detail,
    blade_life_min,
    blades_needed,
    choose_blade,
    speed_for,
    stroke_mm,
)
from companion.shop import tables
from companion.shop.settings import default_settings

SETTINGS = replace(default_settings(), skill="practised")
SIZES = [b.number for b in tables.blades()]


def chosen(
    material: str = "birch-plywood", depth: float = 6.0, opening: float = 50.0,
    asked: str | None = None,
) -> BladeChosen:  # fmt: skip
    detail = Detail(opening, 0.3, 0.1)
    return choose_blade(tables.material(material), depth, detail, SETTINGS, asked)


@pytest.mark.parametrize(
    ("depth", "usual"),
    # starting table: up to 1/8 in 2/0-1; 1/4 1-3; 1/2 3-5; 3/4 5-7; 1 in 7-9 (facts section 3)
    [(3.0, "1"), (6.0, "3"), (12.0, "5"), (19.0, "7"), (25.0, "9"), (40.0, "12")],
)
def test_the_usual_size_follows_the_thickness(depth: float, usual: str) -> None:
    assert chosen(depth=depth).blade.number == usual
    assert "Usual" in chosen(depth=depth).why


def test_hard_stuff_takes_one_size_up_and_detail_takes_it_down() -> None:
    assert chosen("mdf").blade.number == "4"
    tight = chosen(opening=3.0)
    assert SIZES.index(tight.blade.number) < SIZES.index("3")
    assert "detail" in tight.why


@given(st.floats(0.5, 40), st.floats(0.2, 60), st.sampled_from(sorted(tables.materials())))
def test_a_thinner_opening_never_gets_a_thicker_blade(
    depth: float, opening: float, material: str
) -> None:
    wide, narrow = chosen(material, depth, opening), chosen(material, depth, opening / 2)
    assert narrow.blade.width_mm <= wide.blade.width_mm


@given(st.floats(0.5, 40), st.floats(1.6, 60), st.sampled_from(sorted(tables.materials())))
def test_the_blade_passes_a_drill_of_the_set_that_fits(
    depth: float, opening: float, material: str
) -> None:
    """From 1.6 mm on, the thinnest blade (0.61 mm), the 0.8 mm drill and margins fit."""
    blade = chosen(material, depth, opening).blade
    drill = next(d for d in SETTINGS.drills if d.diameter_mm >= blade.passes_mm + 0.1)
    assert drill.diameter_mm + 2 * 0.3 <= opening


def test_what_is_asked_for_is_taken_and_few_teeth_are_told() -> None:
    """Never fewer than two teeth in the work: 12 at 9.5 tpi needs 2 x 25.4 / 9.5 = 5.35 mm."""
    got = chosen(depth=5.3, asked="12")
    assert got.blade.number == "12"
    assert [f.code for f in got.findings] == ["teeth-few"]
    assert not chosen(depth=5.4, asked="12").findings
    with pytest.raises(ShopError):
        chosen(asked="13")


@given(st.floats(1.81, 60.0))
def test_every_choice_of_the_table_keeps_two_teeth_in_the_work(depth: float) -> None:
    """From 1.81 mm on (two teeth of a 28 tpi blade, facts section 3)."""
    assert not chosen(depth=depth).findings


@given(st.floats(1.7, 60.0), st.sampled_from(sorted(tables.materials())))
def test_a_size_up_for_hard_stuff_never_costs_the_second_tooth(depth: float, key: str) -> None:
    """From 1.7 mm on (two teeth of a 30 tpi blade)."""
    assert not chosen(key, depth).findings


def test_a_thin_hard_board_takes_a_finer_blade_and_says_why() -> None:
    got = chosen("mdf", 2.0)
    assert got.blade.number == "1" and "fewer than 2 teeth in 2 mm" in got.why
    few = chosen("mdf", 1.0)
    assert few.blade.tpi == max(b.tpi for b in tables.blades())
    assert [f.remedy for f in few.findings] == ["Stack boards, or use a thicker one."]
    assert "finer" in chosen("mdf", 2.0, asked="12").findings[0].remedy


def test_inside_runs_slower_on_any_dial() -> None:
    for of in (5.0, 10.0, 20.0, 100.0, 1750.0):
        mine = replace(SETTINGS, saw=replace(SETTINGS.saw, dial_of=of))
        inside, outside = speed_for("inside", 6.0, mine), speed_for("outside", 6.0, mine)
        assert 0 < inside.dial < outside.dial <= of == inside.of
        beginner = speed_for("outside", 6.0, replace(mine, skill="beginner"))
        assert beginner.dial < outside.dial
        assert speed_for("inside", 2.0, mine).dial < inside.dial


def test_wood_thicker_than_the_table_goes_takes_the_blade_of_its_thickest() -> None:
    mdf, detail = tables.material("mdf"), Detail(50.0, 0.3, 0.1, 40.0)
    last = tables.blade_choices()[-1]
    for depth in (last.up_to_mm, last.up_to_mm + 1.0, 3 * last.up_to_mm):
        beginner = replace(SETTINGS, skill="beginner")
        assert choose_blade(mdf, depth, detail, beginner).blade.number == last.usual


def test_blades_needed_by_hand() -> None:
    """22 min in MDF; plywood wears a blade in 0.8 of that."""
    mdf, ply = tables.material("mdf"), tables.material("birch-plywood")
    assert blade_life_min(mdf) == 22.0
    assert [blades_needed([m], mdf) for m in (0.0, 22.0, 22.1, 70.0)] == [1, 1, 2, 4]
    assert blades_needed([22.0], ply) == 2
    # three cuts of 12 min: none fits beside another, though two blades would last
    assert blades_needed([12.0] * 3, mdf) == 3
    assert blades_needed([11.0] * 4, mdf) == 2
    assert blades_needed([], mdf) == 1
    # a cut of one and a half lives leaves half a life for the next
    assert blades_needed([33.0, 10.0], mdf) == 2
    # 15 to 30 min in hardwood and plywood (facts section 3)
    assert 15.0 <= blade_life_min(ply) <= 30.0
    assert math.isclose(blade_life_min(tables.material("sugar-maple")), 22 * 0.7)


def test_slender_letters_take_a_finer_blade_and_a_slab_does_not() -> None:
    mdf = tables.material("mdf")
    slab = choose_blade(mdf, 6.0, Detail(50.0, 0.3, 0.1, stroke_mm(150 * 100, 500)), SETTINGS)
    script = choose_blade(mdf, 6.0, Detail(50.0, 0.3, 0.1, stroke_mm(1500 * 3, 3006)), SETTINGS)
    hair = choose_blade(mdf, 6.0, Detail(50.0, 0.3, 0.1, 0.9), SETTINGS)
    order = [SIZES.index(c.blade.number) for c in (slab, script, hair)]
    assert order[0] > order[1] > order[2]
    assert "detail is tight" in script.why
