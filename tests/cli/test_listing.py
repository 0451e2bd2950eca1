"""Findings as text: each place told, a remedy that several share told once."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from companion.cli.listing import (
    NOTES_TOLD,
    after_text,
    finding_lines,
    first_of_all,
)
from companion.devices.paths import shipped
from companion.draw.scene import build_scene
from companion.draw.stops import stops_text
from companion.findings import Finding, in_order, lettered
from companion.planner.make import plan_project
from companion.planner.project import load_project
from companion.shop.finishing import Coat, Finish
from companion.shop.settings import default_settings
from companion.words import ENGLISH

FOUND = st.builds(
    Finding, st.sampled_from(["neck-thin", "reach"]), st.sampled_from(["stop", "warn", "note"]),
    st.sampled_from([None, (1.0, 2.0)]), st.sampled_from(["It is thin.", "It meets."]),
    st.sampled_from(["", "Thicken it.", "Turn it."]),
)  # fmt: skip


@given(st.lists(FOUND, max_size=12))
def test_each_finding_once_each_remedy_once_below_its_own(found: list[Finding]) -> None:
    lines = finding_lines(in_order(found), ENGLISH)
    kinds = Counter((f.severity, f.code, f.remedy) for f in found)
    few = sum(
        min(n, NOTES_TOLD) if key[0] == "note" and not key[2] else n for key, n in kinds.items()
    )
    assert len([x for x in lines if not x.startswith("      ")]) == few
    counted = [int(m[1]) for x in lines if (m := re.match(r" +(\d+) more like these", x))]
    assert few + sum(counted) == len(found)
    lines = [x for x in lines if "more like these" not in x]
    asked = {(f.severity, f.code, f.remedy) for f in found if f.remedy}
    assert len([x for x in lines if x.startswith("      ")]) == len(asked)
    grave = [("STOP", "warn", "note").index(x[:4]) for x in lines if not x.startswith("      ")]
    assert grave == sorted(grave), "gravest first"
    below: list[str] = []
    for line in lines:
        if line.startswith("      "):
            told = [f for f in found if any(f"{f.code}" in b and f.text in b for b in below)]
            assert line.strip() in {f.remedy for f in told}
            below = []
        else:
            below.append(line)


def test_what_all_of_a_kind_say_is_told_once() -> None:
    def neck(n: int, more: str = "It may go.") -> Finding:
        return Finding("neck", "warn", (n, 0.0), f"Neck N{n} is thin. {more}", "Thicken it.")

    lines = finding_lines([neck(10), neck(20)], ENGLISH)
    assert lines[0].endswith("Neck N10 is thin.") and lines[1].endswith("Neck N20 is thin.")
    assert [x.strip() for x in lines[2:]] == ["It may go. Thicken it."]
    lines = finding_lines([neck(10), neck(20, "It may stay.")], ENGLISH)
    assert lines[0].endswith("It may go.") and lines[1].endswith("It may stay.")
    assert lines[2].strip() == "Thicken it."
    assert finding_lines([neck(10)], ENGLISH)[0].endswith("It may go.")


def test_a_thin_word_is_told_its_remedy_once() -> None:
    plan = plan_project(load_project(shipped("demo_projects") / "harbour_sign"), default_settings())
    assert sum(f.code.startswith("neck") for f in plan.findings) > 5
    lines = finding_lines(plan.findings, ENGLISH)
    remedies = [x for x in lines if x.startswith("      ")]
    kinds = {(f.severity, f.code, f.remedy) for f in plan.findings if f.remedy}
    assert len(remedies) == len(kinds)


def test_finishing_and_drying_are_told_apart_from_the_minutes() -> None:
    spec = load_project(shipped("demo_projects") / "ferry_plate")
    coats: tuple[Coat, ...] = ("paint", "none", "raw")
    painted, bare, raw = (
        plan_project(replace(spec, finish=Finish(coat)), default_settings()) for coat in coats
    )
    last = [s for s in painted.steps if s.stage == "finish"]
    assert painted.finish_min == sum(s.minutes.likely for s in last) > bare.finish_min > 0.0
    (told,) = after_text(painted, ENGLISH)
    assert f"{ENGLISH.duration(painted.drying_min)} of drying" in told
    assert "drying" not in after_text(bare, ENGLISH)[0] and after_text(raw, ENGLISH) == []


def test_an_icons_size_is_told_last_where_it_is_read_first() -> None:
    small = Finding("size-small", "warn", None, "It is small.", "Say the width.")
    told = first_of_all([Finding("reach", "stop", None, "It meets.", ""), small], ENGLISH)
    assert len(told) == 1 and told[0].endswith("It is small. Say the width.")
    assert first_of_all([Finding("reach", "stop", None, "It meets.", "")], ENGLISH) == []


def test_the_sheet_bears_the_letters_of_the_list() -> None:
    plan = plan_project(load_project(shipped("demo_projects") / "harbour_sign"), default_settings())
    listed = {name: at for name, at, _ in lettered(plan.findings)}
    notes = build_scene(plan).notes
    assert len(notes) > 5 and {f.severity for f in plan.findings} == {"warn", "note"}
    assert all(listed[note.letter] == note.at_mm for note in notes)


def test_stops_are_told_again_at_the_end_and_notes_do_not_bury_them() -> None:
    stops = [Finding("board-small", "stop", None, "It is small.", ""),
             Finding("neck-lost", "stop", (5.0, 5.0), "It is thin.", "")]  # fmt: skip
    notes = [Finding("overlap", "note", (20.0 * k, 0.0), "They overlap.", "") for k in range(12)]
    rest = Finding("overlap", "note", None, "More were not listed.", "")
    found = in_order([*notes, *stops, rest])
    assert found[-1] == rest
    lines = finding_lines(found, ENGLISH)
    assert len(lines) == 2 + NOTES_TOLD + 1
    assert lines[-1].strip() == "10 more like these, at E, F, G, H, I, J, K, L, M."
    last = stops_text(found, ENGLISH)
    assert last.endswith(": board-small; A neck-lost.") and not stops_text(notes, ENGLISH)
    more = [Finding("hole-no-room", "stop", (9.0 * k, 50.0), "No room.", "") for k in range(5)]
    last = stops_text(in_order([*found, *more]), ENGLISH)
    assert last.endswith(": board-small; A-E hole-no-room; F neck-lost.")
