"""Kept plans: found again when nothing changed, made again when anything did."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from companion.errors import PlanError
from companion.planner import cache
from companion.planner.cache import cached_plan, plan_key, store_plan
from companion.planner.make import plan_project
from companion.planner.plan import EMPTY, Plan
from companion.planner.project import Pin, ProjectSpec, load_project
from companion.planner.timing import Calibration
from companion.shop import tables
from companion.shop.model import Settings
from companion.shop.settings import default_settings

RING = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="40mm" viewBox="0 0 60 40">'
    '<path fill-rule="evenodd" d="M0 0h60v40h-60z M20 10h20v20h-20z"/></svg>'
)


@pytest.fixture
def spec(tmp_path: Path) -> ProjectSpec:
    drawing = tmp_path / "ring.svg"
    drawing.write_text(RING, encoding="utf-8")
    return load_project(drawing)


@pytest.fixture
def plan(spec: ProjectSpec) -> Plan:
    return plan_project(spec, default_settings())


def test_what_is_kept_comes_back_equal(spec: ProjectSpec, plan: Plan, tmp_path: Path) -> None:
    folder, mine = tmp_path / "kept", default_settings()
    assert cached_plan(spec, mine, folder) is None
    assert store_plan(plan, spec, mine, folder)
    found = cached_plan(spec, mine, folder)
    assert found is not None
    assert found.to_json() == plan.to_json()
    assert found.short_hash == plan.short_hash
    assert len(list(folder.iterdir())) == 1


SPEC_CHANGES: list[Callable[[ProjectSpec], ProjectSpec]] = [
    lambda s: replace(s, material="hardboard"),
    lambda s: replace(s, thickness_mm=6.5),
    lambda s: replace(s, stack=2),
    lambda s: replace(s, margin_mm=16.0),
    lambda s: replace(s, width_mm=200.0),
    lambda s: replace(s, blade="1"),
    lambda s: replace(s, name="other"),
    lambda s: replace(s, options=replace(s.options, width_mm=100.0)),
    lambda s: replace(s, options=replace(s.options, shaded="waste")),
    lambda s: replace(s, pins=(Pin(1, None, (1.0, 1.0), None),)),
]
SETTING_CHANGES: list[Callable[[Settings], Settings]] = [
    lambda s: replace(s, skill="terse"),
    lambda s: replace(s, drills=s.drills[1:]),
    lambda s: replace(s, finger_distance_mm=30.0),
    lambda s: replace(s, language="de"),
    lambda s: replace(s, saw=replace(s.saw, throat_mm=500.0)),
]


def test_whatever_the_plan_depends_on_changes_its_name(spec: ProjectSpec) -> None:
    mine = default_settings()
    keys = [plan_key(spec, mine)]
    keys += [plan_key(change(spec), mine) for change in SPEC_CHANGES]
    keys += [plan_key(spec, change(mine)) for change in SETTING_CHANGES]
    keys.append(plan_key(spec, mine, Calibration(feed=1.1)))
    spec.pattern.write_text(RING + " ", encoding="utf-8")
    keys.append(plan_key(spec, mine))
    assert len(set(keys)) == len(keys)


def test_what_it_does_not_depend_on_does_not(spec: ProjectSpec, tmp_path: Path) -> None:
    mine = default_settings()
    other = tmp_path / "elsewhere" / "copy.svg"
    other.parent.mkdir()
    other.write_text(RING, encoding="utf-8")
    moved = replace(spec, folder=other.parent, pattern=other)
    assert plan_key(moved, mine) == plan_key(spec, mine)
    louder = replace(mine, speech_rate_wpm=200, distance_mm=2000.0, pedal_key="enter")
    assert plan_key(spec, louder) == plan_key(spec, mine)


def test_tables_and_code_are_part_of_the_name(
    spec: ProjectSpec, monkeypatch: pytest.MonkeyPatch
) -> None:
    mine = default_settings()
    before = plan_key(spec, mine)
    monkeypatch.setattr(tables, "tables_hash", lambda: "other tables")
    changed = plan_key(spec, mine)
    monkeypatch.setattr(cache, "_code_hash", lambda: "other code")
    assert len({before, changed, plan_key(spec, mine)}) == 3


@pytest.mark.parametrize("spoil", ["cut", "flip", "empty", "binary", "folder"])
def test_a_spoilt_file_is_a_miss_and_is_mended(
    spec: ProjectSpec, plan: Plan, tmp_path: Path, spoil: str
) -> None:
    folder, mine = tmp_path / "kept", default_settings()
    store_plan(plan, spec, mine, folder)
    path = next(folder.iterdir())
    data = path.read_bytes()
    if spoil == "folder":
        path.unlink()
        path.mkdir()
        assert cached_plan(spec, mine, folder) is None
        assert not store_plan(plan, spec, mine, folder)
        return
    path.write_bytes(
        {"cut": data[:-20], "flip": data.replace(b"inside", b"outsid", 1), "empty": b"",
         "binary": b"\xff\xfe" + data}[spoil]
    )  # fmt: skip
    assert cached_plan(spec, mine, folder) is None
    assert store_plan(plan, spec, mine, folder)
    assert cached_plan(spec, mine, folder) is not None


def test_a_folder_that_cannot_be_written_only_costs_time(
    spec: ProjectSpec, plan: Plan, tmp_path: Path
) -> None:
    (tmp_path / "file").write_text("", encoding="utf-8")
    assert not store_plan(plan, spec, default_settings(), tmp_path / "file" / "kept")
    assert cached_plan(spec, default_settings(), tmp_path / "file" / "kept") is None


def test_old_plans_go(spec: ProjectSpec, tmp_path: Path) -> None:
    mine = default_settings()
    for i in range(cache.KEEP + 5):
        store_plan(EMPTY, replace(spec, name=f"n{i}"), mine, tmp_path / "kept")
        path = max((tmp_path / "kept").iterdir(), key=lambda p: p.stat().st_mtime_ns)
        os.utime(path, (i, i))
    assert len(list((tmp_path / "kept").iterdir())) == cache.KEEP
    newest = replace(spec, name=f"n{cache.KEEP + 4}")
    assert cached_plan(newest, mine, tmp_path / "kept") is not None


def test_a_drawing_that_is_gone_is_told(spec: ProjectSpec, tmp_path: Path) -> None:
    spec.pattern.unlink()
    with pytest.raises(PlanError, match="cannot be read"):
        cached_plan(spec, default_settings(), tmp_path)


def test_a_kept_plan_is_opened_without_geometry(tmp_path: Path) -> None:
    """Fresh interpreters: the second run imports neither numpy, shapely, scipy nor a reader."""
    drawing = tmp_path / "ring.svg"
    drawing.write_text(RING, encoding="utf-8")
    program = (
        "import sys\n"
        "from companion.cli.common import planned, user_settings\n"
        "from companion.planner.project import load_project\n"
        "from pathlib import Path\n"
        f"settings, words = user_settings()\n"
        f"plan = planned(load_project(Path({str(drawing)!r})), settings, words)\n"
        "heavy = {'numpy', 'shapely', 'scipy', 'svgpathtools', 'textual', 'sqlite3'}\n"
        "print(plan.short_hash, sorted(heavy & set(sys.modules)))\n"
    )
    env = {**os.environ, "KERFSIDE_HOME": str(tmp_path / "home")}
    runs = [
        subprocess.run(
            [sys.executable, "-c", program], env=env, capture_output=True, text=True, check=True
        ).stdout.split(" ", 1)
        for _ in range(2)
    ]
    assert runs[0][0] == runs[1][0]
    assert "numpy" in runs[0][1]
    assert runs[1][1].strip() == "[]"
