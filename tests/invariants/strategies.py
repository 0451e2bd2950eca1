"""The things that properties are asked of, drawn by chance: one place for all tests.

Patterns and openings themselves are drawn in tests/planner/drawn.py, which the planner's own
tests share; they are named here so that a new test finds everything together.
"""

from __future__ import annotations

from dataclasses import replace

from hypothesis import strategies as st

from companion.journal.model import Entry
from companion.session import model as m
from companion.session.texts import shop_texts
from companion.shop.model import Settings
from companion.shop.settings import KEYS, SAW, default_settings
from companion.shop.tables import all_drills, materials
from tests.planner.drawn import openings, patterns
from tests.session.plans import plan

__all__ = ["boards", "entries", "inputs", "openings", "patterns", "pedal_traces", "plans",
           "presses", "settings_files", "user_settings"]  # fmt: skip

MISHAPS = tuple(r.key for r in shop_texts().recoveries)

# ------------------------------------------------------------- the saw

plans = st.builds(
    plan, legs=st.integers(1, 3), cuts=st.integers(1, 3), bare=st.booleans(),
    wait_min=st.sampled_from((0.0, 30.0)),
)  # fmt: skip
"""Small plans of every shape a session has to walk."""

presses: st.SearchStrategy[m.Input] = st.sampled_from(
    (m.Done(), m.Done(), m.Done(), m.Again(), m.Back(), m.Pause(), m.Tick(), m.Why(), m.Holes(),
     m.Focus(False), m.Focus(True))
)  # fmt: skip
"""What a foot or a hand does most; Done more often than the rest."""

inputs: st.SearchStrategy[m.Input] = st.one_of(
    presses, st.just(m.Stop()), st.builds(m.Mishap, st.sampled_from(MISHAPS)),
    st.builds(m.Note, st.text(max_size=20)),
)  # fmt: skip
"""Everything but leaving."""


@st.composite
def pedal_traces(draw: st.DrawFn) -> list[float]:
    """Times of key events, seconds: taps, doubles, held keys and bounce, in one row."""
    now, times = 0.0, []
    for _ in range(draw(st.integers(1, 8))):
        now += draw(st.floats(0.001, 3.0))
        times.append(now)
        kind = draw(st.sampled_from(("tap", "double", "hold", "bounce")))
        if kind == "double":
            now += draw(st.floats(0.05, 0.5))
            times.append(now)
        elif kind == "hold":
            now += draw(st.floats(0.25, 0.66))
            for _ in range(draw(st.integers(1, 20))):
                times.append(now)
                now += 1.0 / draw(st.floats(11.0, 30.0))
        elif kind == "bounce":
            now += draw(st.floats(0.001, 0.029))
            times.append(now)
    return times


# ------------------------------------------------------------- the journal

json_data = st.dictionaries(
    st.text(max_size=5),
    st.none() | st.booleans() | st.integers(-(2**60), 2**60)
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(st.characters(codec="utf-8"), max_size=20),
    max_size=4,
)  # fmt: skip
entries = st.builds(
    Entry,
    wall_s=st.floats(0, 4e9),
    mono_s=st.floats(0, 1e7),
    session=st.sampled_from(("s1", "s2")),
    kind=st.sampled_from(("note", "step-done", "run-start")),
    data=json_data,
    run=st.none() | st.sampled_from(("r1", "r2")),
    step=st.none() | st.integers(1, 99),
    cut=st.none() | st.integers(1, 99),
    stage=st.none() | st.sampled_from(("cut", "lip")),
)
"""Events as any session might write them."""

# ------------------------------------------------------------- the shop

boards = st.tuples(
    st.sampled_from(sorted(materials())), st.floats(1.0, 40.0), st.integers(1, 6)
)  # fmt: skip
"""Material, thickness in mm, boards in the stack."""


@st.composite
def user_settings(draw: st.DrawFn) -> Settings:
    """Settings that a file may hold, at the ends of their ranges too."""
    found = default_settings()
    texts = st.text(st.characters(codec="utf-8", exclude_categories=("Cc", "Cs")), max_size=12)
    for key in KEYS:
        if key.name == "language" or not draw(st.booleans()):
            continue
        value: object
        if key.choices:
            value = draw(st.sampled_from(key.choices))
        elif key.kind is bool:
            value = draw(st.booleans())
        elif key.kind is str:
            value = draw(texts)
        else:
            value = key.kind(
                draw(st.sampled_from((key.least, key.most, (key.least + key.most) / 2)))
            )
        if key.section == SAW:
            found = replace(found, saw=replace(found.saw, **{key.field: value}))  # type: ignore[arg-type]
        else:
            found = replace(found, **{key.field: value})  # type: ignore[arg-type]
    names = draw(st.sets(st.sampled_from(sorted(all_drills())), min_size=1, max_size=6))
    drills = tuple(sorted((all_drills()[n] for n in names), key=lambda d: d.diameter_mm))
    return replace(found, drills=drills)


settings_files = st.one_of(
    st.binary(max_size=200),
    st.text(max_size=200).map(lambda t: t.encode("utf-8", "replace")),
    st.builds(
        lambda key, value: f"[{key.section}]\n{key.name} = {value}\n".encode(),
        st.sampled_from(KEYS),
        st.sampled_from(
            ("1e400", "-1", "nan", "inf", "true", '""', "[]", "{}", '"' + "x" * 500 + '"',
             "1979-05-27", "0x7fffffffffffffff", '"\\u0000"', "99999999999999999999", '"none"')
        ),
    ),
)  # fmt: skip
"""Bytes that may stand in settings.toml: noise, and known keys with strange values."""
