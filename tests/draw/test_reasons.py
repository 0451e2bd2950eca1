"""Every step, turn and finding has its reason, and every reason its picture."""

from __future__ import annotations

import ast
import re
import tomllib
import xml.etree.ElementTree as ET
from pathlib import Path
from typing import get_args

import pytest

import companion
from companion.cli import main as cli
from companion.draw.cells import Ink, Mode
from companion.draw.reasons import PICTURES, picture_cells, picture_of, reason_svg
from companion.draw.sketch import HEIGHT_MM, WIDTH_MM
from companion.errors import UsageError
from companion.planner.plan import Stage, Technique
from companion.planner.resorts import Kind
from companion.shop import tables
from companion.shop.reasons import FOLDER, covers, page_of, pages, reason_page

ROOT = Path(companion.__file__).parent
SOURCES = sorted([*ROOT.glob("pattern/*.py"), *ROOT.glob("planner/*.py")])
CODE = re.compile(r"[a-z]+(-[a-z]+)*")
TELLERS = ("Finding", "notes.add", "source.note", "self.note", "tables.limit", "limit")
SEVERITIES = {"stop", "warn", "note"}


def _called(node: ast.Call) -> str:
    return ast.unparse(node.func)


def _literals(node: ast.expr) -> list[str]:
    """Strings an expression can be: a constant, or the arms of a choice."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return [node.value]
    if isinstance(node, ast.IfExp):
        return [*_literals(node.body), *_literals(node.orelse)]
    return []


def emitted(text: str) -> tuple[set[str], set[str]]:
    """Codes of findings in a source text, and patterns of those put together there."""
    codes: set[str] = set()
    patterns: set[str] = set()
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Call) and node.args:
            name = _called(node)
            if any(name == t or name.endswith("." + t) for t in TELLERS):
                codes |= set(_literals(node.args[0]))
                patterns |= _joined(node.args[0])
        # tables of what is not read, and candidates of a neck's finding
        if isinstance(node, ast.Tuple) and len(node.elts) >= 3:
            first, second = (_literals(e) for e in node.elts[:2])
            # names of style properties stand in tuples of their like
            if not any(CODE.fullmatch(s) for s in second):
                codes |= {c for c in first if "-" in c and CODE.fullmatch(c)}
        if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == "code":
            for arm in ast.walk(node.value):
                patterns |= _joined(arm)
                if isinstance(arm, ast.IfExp):
                    codes |= set(_literals(arm))
    return codes, patterns


def _joined(node: ast.AST) -> set[str]:
    if not isinstance(node, ast.JoinedStr):
        return set()
    parts = [
        re.escape(str(v.value)) if isinstance(v, ast.Constant) else "[a-z-]+" for v in node.values
    ]
    return {"".join(parts)}


def all_emitted() -> tuple[set[str], set[str]]:
    codes: set[str] = set()
    patterns: set[str] = set()
    for path in SOURCES:
        found, joined = emitted(path.read_text(encoding="utf-8"))
        codes |= found
        patterns |= joined
    return codes - NOT_FINDINGS, patterns


NOT_FINDINGS = {"two-runs", "turned-blade"}
"""Kinds of last resort: their findings are called reach-two-runs and so on."""


def test_the_code_finder_finds() -> None:
    """It must be able to fail: codes in each of the ways in which the sources write them."""
    text = (
        'notes.add("a-b", "note", "x")\nFinding("c-d", "warn", None, "", "")\n'
        'tables.limit("e-f" if x else "g-h")\nself.source.note(f"{n}-lost", "warn", "")\n'
        'T = {"k": ("i-j", "X", "Y.")}\ncode = "reach" if k else f"reach-{k}"\n'
    )
    codes, patterns = emitted(text)
    assert codes == {"a-b", "c-d", "e-f", "g-h", "i-j", "reach"}
    assert patterns == {r"[a-z-]+\-lost", r"reach\-[a-z-]+"}


def test_every_finding_has_a_reason() -> None:
    codes, patterns = all_emitted()
    assert len(codes) > 50 and len(patterns) >= 3
    told = set(tomllib.loads((FOLDER / "covers.toml").read_text(encoding="utf-8"))["finding"])
    codes |= set(tables.limits())
    assert sorted(codes - told) == []
    for pattern in patterns:
        assert any(re.fullmatch(pattern, code) for code in told), pattern
    for kind in get_args(Kind):
        assert page_of("reach" if kind == "none" else f"reach-{kind}") is not None
    # and none for a finding that no longer exists
    stale = {c for c in told - codes if not any(re.fullmatch(p, c) for p in patterns)}
    assert sorted(stale) == []


@pytest.mark.parametrize("topic", [*get_args(Stage), *get_args(Technique)])
def test_every_stage_and_turn_has_a_reason(topic: str) -> None:
    assert page_of(topic) is not None


def test_every_page_has_a_picture_and_is_asked_for_or_told() -> None:
    assert set(PICTURES) == set(pages())
    assert set(covers().values()) <= set(pages())
    # pages that no step or finding leads to are read from the list
    assert set(pages()) - set(covers().values()) == {
        "inside-first", "not-from-edge", "stiff-order", "drift", "tension",
    }  # fmt: skip


@pytest.mark.parametrize("key", list(pages()))
def test_pages_are_short_sentences_with_a_source(key: str) -> None:
    page = pages()[key]
    assert page.source and page.trust in tables.TRUST_ORDER
    assert page.why.endswith(".") and len(page.why) <= 110, page.why
    assert page.caption.endswith(".") and len(page.title) <= 40
    assert 1 <= len(page.text) <= 3 and all(t.endswith(".") for t in page.text)
    assert not re.search(r"[{}]", "".join((page.why, page.caption, *page.text)))


@pytest.mark.parametrize("key", list(pages()))
def test_pictures_stay_on_their_plane_and_show_on_every_canvas(key: str) -> None:
    scene = picture_of(pages()[key]).scene
    for line in scene.lines:
        for x, y in line.points_mm:
            assert -0.6 <= x <= WIDTH_MM + 0.6 and -0.6 <= y <= HEIGHT_MM + 0.6, line
    root = ET.fromstring(reason_svg(key))
    assert root.get("width", "").endswith("mm") and len(list(root.iter())) > 4
    modes: tuple[Mode, ...] = ("braille", "quadrant", "ascii")
    for mode in modes:
        frame = picture_cells(key, 60, 15, mode)
        assert frame.signs.shape == (15, 60)
        lined = (frame.ink > Ink.PATTERN).mean()
        assert 0.04 < lined < 0.6, (key, mode, lined)
    assert picture_cells(key, 60, 15).text() == picture_cells(key, 60, 15).text()


def test_pictures_of_different_pages_differ() -> None:
    assert len({reason_svg(k) for k in pages()}) == len(pages())


def test_a_small_picture_is_still_a_picture() -> None:
    for columns, rows in ((8, 3), (20, 5), (200, 60)):
        assert picture_cells("spin", columns, rows).signs.shape == (rows, columns)


def test_why_on_the_command_line(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("KERFSIDE_HOME", str(tmp_path))
    assert cli.main(["practice", "--why"]) == 0
    listed = capsys.readouterr().out
    assert all(key in listed for key in pages())
    picture = tmp_path / "necks.svg"
    assert cli.main(["practice", "--why", "neck-thin", "--svg", str(picture)]) == 0
    out = capsys.readouterr().out
    assert out.startswith("Necks\n") and pages()["necks"].caption[:30] in out
    assert ET.parse(picture).getroot().tag.endswith("svg")
    assert cli.main(["practice", "--why", "juggling"]) == 2
    assert "no page about 'juggling'" in capsys.readouterr().err
    with pytest.raises(UsageError):
        reason_page("juggling")
