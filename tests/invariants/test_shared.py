"""Properties over the shared strategies that belong to no package's own tests."""

from __future__ import annotations

import tempfile
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from companion.errors import ShopError
from companion.planner.blades import Detail, choose_blade
from companion.session.gesture import Down, Heard, PedalTiming, Presses, Told, pass_time, press
from companion.shop.model import Settings
from companion.shop.settings import default_settings, load_settings, save_settings
from companion.shop.tables import blades, material
from tests.invariants import strategies as ours

TIMING = PedalTiming()


def heard_of(times: list[float]) -> list[Heard]:
    state = Presses()
    found: list[Heard] = []
    for at in times:
        state, more = press(state, at, TIMING)
        found += more
    state, more = pass_time(state, times[-1] + 10.0, TIMING)
    assert state.first_s is None and state.second_s is None
    return [*found, *more]


@settings(deadline=None, max_examples=200)
@given(ours.pedal_traces())
def test_every_press_that_is_told_is_resolved_once(times: list[float]) -> None:
    """Each Down has one Told of the same moment, in the same order; no Told comes from nowhere."""
    found = heard_of(times)
    downs = [h.at_s for h in found if isinstance(h, Down)]
    told = [h.at_s for h in found if isinstance(h, Told)]
    assert downs == told and downs == sorted(downs)
    assert set(downs) <= set(times)
    assert downs[0] == times[0]


@settings(deadline=None, max_examples=100)
@given(ours.pedal_traces(), st.floats(0.0, 5.0))
def test_asking_in_between_changes_nothing(times: list[float], every: float) -> None:
    """The clock may look as often as it likes: what is heard stays the same."""
    state = Presses()
    found: list[Heard] = []
    before = times[0]
    for at in times:
        for part in (0.25, 0.5, 0.75):
            state, more = pass_time(state, before + (at - before) * part, TIMING)
            found += more
        state, more = press(state, at, TIMING)
        found += more
        before = at
    found += pass_time(state, times[-1] + 10.0 + every, TIMING)[1]
    assert found == heard_of(times)


@settings(deadline=None, max_examples=100)
@given(ours.user_settings())
def test_settings_come_back_as_they_were_saved(wanted: Settings) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "settings.toml"
        try:
            save_settings(wanted, path)
        except ShopError:
            assert not path.exists(), "a refused setting leaves no file"
            return
        assert load_settings(path) == wanted


@settings(deadline=None, max_examples=300)
@given(ours.settings_files)
def test_any_settings_file_is_read_or_refused_with_a_remedy(content: bytes) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "settings.toml"
        path.write_bytes(content)
        try:
            found = load_settings(path)
        except ShopError as error:
            assert error.remedy and str(path.name) in f"{error.title} {error.cause} {error.remedy}"
            return
        assert 10 <= found.finger_distance_mm <= 150 and found.drills


@settings(deadline=None, max_examples=100)
@given(ours.boards, st.floats(0.5, 30.0), st.sampled_from(("beginner", "practised", "terse")))
def test_any_board_has_a_blade_of_the_table(
    board: tuple[str, float, int], opening_mm: float, skill: str
) -> None:
    key, thick_mm, stack = board
    user = default_settings()
    detail = Detail(opening_mm, 0.3, 0.1)
    found = choose_blade(material(key), thick_mm * stack, detail, user)
    assert found.blade in blades() and found.why
    # a thicker stack never asks for a finer blade in the same opening
    more = choose_blade(material(key), thick_mm * stack * 2, detail, user)
    assert more.blade.width_mm >= found.blade.width_mm
