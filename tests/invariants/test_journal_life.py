"""A journal's whole life in any order: written, cut off, copied, taken in, locked and let go."""

from __future__ import annotations

import shutil
import tempfile
from pathlib import Path

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule

from companion.errors import JournalError
from companion.journal.lease import Lease
from companion.journal.model import Entry, Event
from companion.journal.store import Journal
from tests.invariants import strategies as ours


def bare(entry: Entry) -> tuple[object, ...]:
    return (
        entry.wall_s, entry.mono_s, entry.session, entry.kind, dict(entry.data), entry.run,
        entry.step, entry.cut, entry.stage,
    )  # fmt: skip


class Life(RuleBasedStateMachine):
    """One journal and its copies, against plain lists."""

    def __init__(self) -> None:
        super().__init__()
        self.folder = Path(tempfile.mkdtemp())
        self.path = self.folder / "journal.sqlite3"
        self.journal = Journal(self.path)
        self.wrote: list[Entry] = []
        self.copies: list[tuple[Path, int]] = []
        self.plans: dict[str, str] = {}
        self.lease: Lease | None = None

    @rule(entries=st.lists(ours.entries, max_size=4))
    def append(self, entries: list[Entry]) -> None:
        self.journal.append(entries)
        self.wrote += entries

    @rule(entries=st.lists(ours.entries, max_size=3))
    def one_bad_event_takes_all_back(self, entries: list[Entry]) -> None:
        bad = Entry(0.0, 0.0, "s1", "note", {"x": float("nan")})
        with pytest.raises(JournalError):
            self.journal.append([*entries, bad])

    @rule(name=st.sampled_from("abc"), body=st.text(st.characters(codec="utf-8"), max_size=30))
    def keep_plan(self, name: str, body: str) -> None:
        self.journal.keep_plan(name, body)
        self.plans.setdefault(name, body)

    @rule()
    def power_cut(self) -> None:
        """The files as they stand at this moment are all there is afterwards."""
        image = self.folder / "image"
        image.mkdir()
        for part in self.folder.glob("journal.sqlite3*"):
            if not part.name.endswith("-shm"):
                shutil.copy2(part, image / part.name)
        self.journal.close()
        for part in self.folder.glob("journal.sqlite3*"):
            part.unlink()
        for part in image.iterdir():
            part.rename(self.folder / part.name)
        image.rmdir()
        self.journal = Journal(self.path)

    @rule()
    def reopen(self) -> None:
        self.journal.close()
        self.journal = Journal(self.path)

    @rule()
    def backup(self) -> None:
        to = self.folder / f"copy{len(self.copies)}.sqlite3"
        self.journal.backup(to)
        self.copies.append((to, len(self.wrote)))

    @precondition(lambda self: self.copies)
    @rule(which=st.integers(0, 9))
    def restore(self, which: int) -> None:
        """Taking a copy back in adds nothing: all of it is here already."""
        path, _ = self.copies[which % len(self.copies)]
        assert self.journal.take_in(path) == 0

    @precondition(lambda self: self.copies)
    @rule(which=st.integers(0, 9), into=st.booleans())
    def move_house(self, which: int, into: bool) -> None:
        """An empty journal elsewhere takes a copy in, once."""
        path, count = self.copies[which % len(self.copies)]
        with Journal(None) as other:
            assert other.take_in(path) == count
            assert other.take_in(path) == 0
            assert [bare(e) for e in other.events()] == [bare(e) for e in self.wrote[:count]]

    @precondition(lambda self: self.lease is None)
    @rule()
    def sit_down(self) -> None:
        self.lease = Lease(self.path, "harbour_sign")

    @precondition(lambda self: self.lease is not None)
    @rule()
    def second_comes(self) -> None:
        with pytest.raises(JournalError, match="another companion") as told:
            Lease(self.path, "tide_panel")
        assert "harbour_sign" in told.value.cause

    @precondition(lambda self: self.lease is not None)
    @rule()
    def get_up(self) -> None:
        assert self.lease is not None
        self.lease.close()
        self.lease = None

    @invariant()
    def holds_what_was_confirmed(self) -> None:
        found: list[Event] = list(self.journal.events())
        assert [bare(e) for e in found] == [bare(e) for e in self.wrote]
        assert [e.seq for e in found] == list(range(1, len(found) + 1))
        assert all(self.journal.has_plan(name) for name in self.plans)

    def teardown(self) -> None:
        assert self.journal.check() == []
        self.journal.close()
        if self.lease is not None:
            self.lease.close()
        shutil.rmtree(self.folder)


TestLife = Life.TestCase
TestLife.settings = settings(max_examples=25, stateful_step_count=20, deadline=None)
