"""The table is whole, told in README, and its comparer can fail."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.published.registry import TABLE, Compare, Rows, Source, head, may_fail, sections

ROOT = TABLE.parents[2]


def test_readme_links_the_table() -> None:
    assert TABLE.relative_to(ROOT).as_posix() in (ROOT / "README.md").read_text(encoding="utf-8")


def test_every_module_with_a_source_has_its_section() -> None:
    found = sections(TABLE.read_text(encoding="utf-8"))
    files = {
        p.stem.removeprefix("test_")
        for p in Path(__file__).parent.glob("test_*.py")
        if "\nSOURCE = " in p.read_text(encoding="utf-8")
    }
    assert set(found) == files and len(files) >= 14


def test_the_head_counts_what_stands_below() -> None:
    text = TABLE.read_text(encoding="utf-8")
    assert text.startswith(head(sections(text)))


def compare(trust: str) -> Compare:
    return Compare(Rows(Source("a book", trust, "for a reason")), "a thing", "page 3")


@pytest.mark.parametrize("trust", ["C", "D", "C/D", "M/D"])
def test_a_confirmed_figure_fails_when_it_differs(trust: str) -> None:
    row = compare(trust)
    row(1.0, 1.0)
    with pytest.raises(AssertionError, match=r"1\.1 \(differs\)"):
        row(1.1, 1.0, rel=0.05)
    with pytest.raises(AssertionError, match="at least 7"):
        row.at_least(6.9, 7.0)
    with pytest.raises(AssertionError):
        row((1.0, 2.0), (1.0, 2.1))
    assert [r.holds for r in row.rows.found] == [True, False, False, False]


@pytest.mark.parametrize("trust", ["M", "P"])
def test_a_habit_is_shown_and_fails_nothing(trust: str) -> None:
    row = compare(trust)
    row(1.1, 1.0)
    row.at_most(3.0, 2.0)
    assert not may_fail(trust)
    assert all("(differs)" in r.line() for r in row.rows.found)
