"""The shop's tables against the sources they name."""

from __future__ import annotations

import shutil
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from companion.errors import ShopError
from companion.shop import checks, tables

# USDA FPL, Wood Handbook (FPL-GTR-190), Table 5-3, 12 % moisture: MOR MPa, MOE MPa
WOOD_HANDBOOK = {
    "basswood": (60, 10_100),
    "yellow-poplar": (70, 10_900),
    "sugar-maple": (109, 12_600),
    "red-maple": (92.4, 11_300),
    "black-walnut": (101, 11_600),
    "black-cherry": (85, 10_300),
    "white-oak": (104.8, 12_270),
    "yellow-birch": (114, 13_900),
    "ponderosa-pine": (65, 8_900),
    "sugar-pine": (57, 8_200),
    "western-redcedar": (51.7, 7_700),
    "northern-white-cedar": (45, 5_500),
}


@pytest.mark.parametrize("key", WOOD_HANDBOOK)
def test_solid_wood_has_the_handbooks_strength_along_the_grain(key: str) -> None:
    wood = tables.material(key)
    assert (wood.bending_along_mpa, wood.modulus_along_mpa) == WOOD_HANDBOOK[key]
    assert wood.modulus_mpa < 0.2 * (wood.modulus_along_mpa or 0)


def test_boards_have_the_handbooks_values() -> None:
    """FPL-GTR-190 Table 12-1: MDF 3.59 GPa and 35.85 MPa; hardboard's and plywood's lower ends."""
    assert tables.material("mdf").modulus_mpa == 3590
    assert tables.material("mdf").bending_mpa == 35.85
    assert tables.material("hardboard").modulus_mpa == 3100
    assert tables.material("softwood-plywood").bending_mpa == 33.72
    # ANSI A208.2 Table 2, grade 220: 28.9 N/mm2 = 4192 psi
    assert tables.material("thin-mdf").bending_mpa * 145.0377 == pytest.approx(4192, abs=1)


def test_density_agrees_with_the_species_sheets() -> None:
    """Sugar maple about 44 lb/ft3, basswood 26 lb/ft3 at 12 % (species data pages)."""
    per_m3 = 16.0185
    assert tables.material("sugar-maple").density_kg_m3 == pytest.approx(44 * per_m3, rel=0.02)
    assert tables.material("basswood").density_kg_m3 == pytest.approx(26 * per_m3, rel=0.02)


def test_drills_agree_with_the_published_chart() -> None:
    """Drill-size page: #80 0.343 mm, #1 5.791 mm, #41 2.438 mm, #57 1.092 mm; 1/16 in exactly."""
    known = tables.all_drills()
    for name, mm in (("#80", 0.343), ("#1", 5.791), ("#41", 2.438), ("#57", 1.092)):
        assert known[name].diameter_mm == pytest.approx(mm, abs=5e-4)
    assert known["1/16 in"].diameter_mm == 1.5875
    numbers = [known[f"#{n}"].diameter_mm for n in range(40, 81)]
    assert numbers == sorted(numbers, reverse=True)


def test_metric_drills_follow_bs_328() -> None:
    """0.2 to 0.98 mm at N x 0.1 and +0.02, +0.05, +0.08; 1.0 to 2.95 every 0.05; then 0.1."""
    sizes = {d.diameter_mm for n, d in tables.all_drills().items() if n.endswith("mm")}
    assert {0.2, 0.22, 0.25, 0.28, 0.98, 1.0, 1.05, 2.95, 3.0, 3.1} <= sizes
    assert not {0.21, 0.99, 1.02, 3.05} & sizes
    assert len([s for s in sizes if s < 1.0]) == 32


def test_blades_pass_the_next_number_drill() -> None:
    """A 57 drill passes a No. 3 blade (workshop blog, 2017-04-28), and the diagonals are right."""
    three = tables.blade("3")
    assert three.passes_mm / 25.4 == pytest.approx(0.0349, abs=5e-5)
    assert tables.drill("#57").diameter_mm > three.passes_mm
    widths = [b.width_mm for b in tables.blades()]
    assert widths == sorted(widths)
    # bigger number: wider, thicker (trade magazine, fall 1998 p. 36)
    assert [b.number for b in tables.blades()] == ["2/0", "1", "2", "3", "4", "5", "7", "9", "12"]
    assert all(b.kerf_mm > b.thickness_mm for b in tables.every_blade())
    # those that are asked for by number only lie between their neighbours
    every = [b.number for b in tables.every_blade()]
    assert every == ["3/0", "2/0", "0", "1", "2", "3", "4", "5", "6", "7", "8", "9", "12"]
    assert tables.blade("8") not in tables.blades()
    assert tables.spiral_blade().kerf_mm == tables.spiral_blade().passes_mm


def _facts(node: Any, path: str = "") -> Iterator[tuple[str, dict[str, Any]]]:  # noqa: ANN401
    if isinstance(node, dict):
        if "v" in node:
            yield path, node
        else:
            for key, value in node.items():
                if key != "sources":
                    yield from _facts(value, f"{path}.{key}".lstrip("."))
    elif isinstance(node, list):
        for i, value in enumerate(node):
            yield from _facts(value, f"{path}[{i}]")


@pytest.mark.parametrize("path", sorted(tables.DATA.glob("*.toml")), ids=lambda p: p.stem)
def test_every_value_names_a_source_and_how_far_to_trust_it(path: Path) -> None:
    raw = tomllib.loads(path.read_text(encoding="utf-8"))
    for key, fact in _facts(raw):
        assert fact["s"] in raw["sources"], key
        assert fact["t"] in tables.TRUST_ORDER, key
        if "no published source" in raw["sources"][fact["s"]]:
            assert fact["t"] == "P", f"{path.name} {key}: practice cannot be confirmed"


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    """A folder of tables that a test may spoil."""
    folder = tmp_path / "tables"
    shutil.copytree(tables.DATA, folder)
    return folder


def _spoil(folder: Path, name: str, old: str, new: str) -> None:
    path = folder / f"{name}.toml"
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")


@pytest.mark.parametrize(
    ("name", "old", "new", "says"),
    [
        ("materials", "v = 3590.0", "v = -1.0", "mdf.modulus_mpa: -1.0 is out of range"),
        ("materials", 'family = "fibre"', 'family = "glass"', "mdf.family: must be one of"),
        ("materials", "v = 3590.0", 'v = "stiff"', "must be a number"),
        ("materials", 's = "gtr12"', 's = "hearsay"', "names no source"),
        ("materials", 't = "C"', 't = "Z"', "needs t = C, D, M or P"),
    ],
)
def test_a_spoilt_table_names_file_key_and_remedy(
    copy: Path, name: str, old: str, new: str, says: str
) -> None:
    _spoil(copy, name, old, new)
    with pytest.raises(ShopError) as error:
        tables.materials(copy)
    assert says in str(error.value)
    assert f"{name}.toml" in str(error.value)
    assert "Mend" in error.value.remedy


def test_a_table_that_is_not_toml_or_not_there_is_told(copy: Path) -> None:
    (copy / "limits.toml").write_text("[neck", encoding="utf-8")
    with pytest.raises(ShopError, match="not valid TOML"):
        tables.limits(copy)
    (copy / "checklist.toml").unlink()
    with pytest.raises(ShopError, match="cannot be read"):
        checks.checklist(copy)


def test_a_missing_value_is_told(copy: Path) -> None:
    _spoil(copy, "timing", "thread = {", "threads = {")
    with pytest.raises(ShopError, match=r"timing.toml, seconds.thread: is missing"):
        tables.number("timing", "seconds.thread", folder=copy)


def test_unknown_names_list_the_known_ones() -> None:
    with pytest.raises(ShopError, match=r"birch-plywood.*mdf"):
        tables.material("cheese")
    with pytest.raises(ShopError, match=r"Use one of: 3/0, 2/0, 0, 1"):
        tables.blade("66")
    with pytest.raises(ShopError, match=r"Write it as"):
        tables.drill("thick")


def test_checklists_carry_the_signal_words_and_what_comes_first() -> None:
    """ANSI Z535.4-2007 4.14: WARNING and CAUTION are about injury, NOTICE is not."""
    lists = checks.checklist()
    assert lists.precedence == "The saw's manual, local codes and licensed practice come first."
    assert {i.signal for i in lists.full} <= {"DANGER", "WARNING", "CAUTION", "NOTICE"}
    first = lists.full[0]
    assert first.signal == "WARNING"
    assert "not the saw's own foot switch" in first.say
    # blade tight, foot down, fingers clear before each power-on (design section 6)
    assert [i.key for i in lists.short] == ["blade-tight", "foot-down", "fingers-clear"]
    # each list short enough to be gone through: 3 to 11 items, each at most 12 words
    assert 3 <= len(lists.short) <= 4 and 8 <= len(lists.full) <= 11
    # at most nine in a row, the worst case too: a new blade in an open kerf
    assert len(lists.reentry) + len(lists.first) + len(lists.short) <= 9
    for item in (*lists.full, *lists.first, *lists.reentry, *lists.short):
        assert len(item.say.split()) <= 12, item.say


def test_each_mishap_starts_safe_and_every_kind_is_there() -> None:
    kinds = {m.key: m for m in checks.mishaps()}
    assert set(kinds) == {
        "blade-slipped", "blade-broke", "wandered", "piece-broke",
        "lip-left", "burning", "vibration", "board-stuck", "bit-broke", "hole-off", "bit-caught",
    }  # fmt: skip
    for key in kinds:
        assert kinds[key].steps[0].startswith("Switch off")
    assert all(len(s.split()) <= 22 for m in kinds.values() for s in m.steps)


def test_the_hash_of_the_tables_follows_their_bytes(copy: Path) -> None:
    assert tables.tables_hash(copy) == tables.tables_hash()
    other = copy.parent / "other"
    shutil.copytree(copy, other)
    _spoil(other, "timing", "v = 220.0", "v = 221.0")
    assert tables.tables_hash(other) != tables.tables_hash(copy)
