"""Whatever is appended, closed, copied and taken in: the journal equals a plain list."""

from __future__ import annotations

import shutil
import tempfile
from pathlib import Path

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule

from companion.journal.model import Entry
from companion.journal.store import Journal
from tests.invariants.strategies import entries


def bare(entry: Entry) -> tuple[object, ...]:
    return (
        entry.wall_s, entry.mono_s, entry.session, entry.kind, dict(entry.data), entry.run,
        entry.step, entry.cut, entry.stage,
    )  # fmt: skip


class Books(RuleBasedStateMachine):
    """Two journals that learn from each other, and two lists that say what they must hold."""

    def __init__(self) -> None:
        super().__init__()
        self.folder = Path(tempfile.mkdtemp())
        self.paths = [self.folder / "a.sqlite3", self.folder / "b.sqlite3"]
        self.journals = [Journal(p) for p in self.paths]
        self.wrote: list[list[Entry]] = [[], []]
        self.knows = [[0, 0], [0, 0]]

    @rule(which=st.integers(0, 1), new=st.lists(entries, max_size=4))
    def append(self, which: int, new: list[Entry]) -> None:
        self.journals[which].append(new)
        self.wrote[which] += new
        self.knows[which][which] += len(new)

    @rule(which=st.integers(0, 1))
    def reopen(self, which: int) -> None:
        self.journals[which].close()
        self.journals[which] = Journal(self.paths[which])

    @rule(which=st.integers(0, 1))
    def take_in(self, which: int) -> None:
        other = 1 - which
        new = sum(
            max(0, there - here)
            for here, there in zip(self.knows[which], self.knows[other], strict=True)
        )
        assert self.journals[which].take_in(self.paths[other]) == new
        self.knows[which] = [max(p) for p in zip(*self.knows, strict=True)]

    @invariant()
    def both_hold_what_they_must(self) -> None:
        keys = [j.sources()[0].key for j in self.journals]
        for which, journal in enumerate(self.journals):
            events = list(journal.events())
            assert len(events) == sum(self.knows[which])
            for source in (0, 1):
                found = [bare(e) for e in events if e.source == keys[source]]
                wanted = self.wrote[source][: self.knows[which][source]]
                assert found == [bare(e) for e in wanted]

    def teardown(self) -> None:
        for journal in self.journals:
            assert journal.check() == []
            journal.close()
        shutil.rmtree(self.folder)


TestBooks = Books.TestCase
TestBooks.settings = settings(max_examples=15, stateful_step_count=15, deadline=None)
