"""Where changes are put, and what the list of survivors must say."""

from __future__ import annotations

from tests.mutants.report import explained, stale
from tests.mutants.run import ROOT, drawn, guards
from tests.mutants.sites import mutants

SOURCE = '''"""A module."""
LIMIT: int = 3
Alias = int | str

def f(a: int | None, b: list[int]) -> int:
    """Docs with 1 < 2."""
    if a is None and not b:
        raise ValueError(f"no {1 + 1}")
    for n in b:
        if n == LIMIT:
            break
    b.append(2)
    if not (a and b):
        b.append(-(-len(b) // 7))
    return min(a or 0, len(b) - 1)
'''


def told() -> set[str]:
    return {m.told(SOURCE).split("  =>  ")[1] for m in mutants(SOURCE)}


def test_each_kind_of_change_is_made() -> None:
    found = told()
    for wanted in (
        "LIMIT: int = 4", "LIMIT: int = 2", "if a is not None and not b:", "if a is None or not b:",
        "if a is None and b:", "if n != LIMIT:", "continue", "pass", "b.append(3)", "return None",
        "return max(a or 0, len(b) - 1)", "return min(a and 0, len(b) - 1)",
        "return min(a or 0, len(b) + 1)",
        "if (a and b):", "b.append((-len(b) // 7))",
    ):  # fmt: skip
        assert wanted in found, wanted


def test_what_only_a_reader_sees_is_left_alone() -> None:
    assert not any(m.line in (1, 3, 5, 6, 8) for m in mutants(SOURCE))


def test_every_change_differs_and_reads() -> None:
    found = mutants(SOURCE)
    texts = [m.applied(SOURCE) for m in found]
    assert len(set(texts)) == len(texts) and SOURCE not in texts
    for text in texts:
        compile(text, "changed", "exec")


def test_the_draw_is_the_same_each_time_and_no_place_twice() -> None:
    one, other = drawn(SOURCE, 8, "seed"), drawn(SOURCE, 8, "seed")
    assert one == other != drawn(SOURCE, 8, "another")
    assert len({(m.start, m.end) for m in one}) == 8


def test_guards_name_modules_and_tests_that_are_there() -> None:
    assert len(guards()) >= 15
    for file, tests in guards().values():
        assert (ROOT / file).is_file() and all((ROOT / t).exists() for t in tests)


def test_every_survivor_of_the_list_says_why() -> None:
    found = explained()
    assert found and all(why.strip() for why in found.values())
    assert {key.split(":")[0] for key in found} <= set(guards())


def test_a_line_that_was_changed_since_makes_its_entry_stale() -> None:
    assert stale(["session.walk:Walk.gone: x = 1  =>  x = 2"]) != []
    kept = "session.gesture:Presses: kept_s: float = -1e9  =>  kept_s: float = -1500000000.0"
    assert stale([kept]) == []
