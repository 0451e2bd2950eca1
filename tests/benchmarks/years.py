"""Years of events as the saw writes them: the demos' plans walked by the real session machine.

A walk is recorded once for each demo, level of guidance and way through the drill round
(``tests.tools.rehearsals``: one who learns, pauses, breaks blades, leaves and comes back), and
told again and again under other names, its sittings mingled with those of other works. What
share of the events is of which kind, in percent, each walk once, with the plans of
November 2026 (``mix`` counts them anew):

==============  ========  =========  =====  =======
kind            beginner  practised  terse   MOST
==============  ========  =========  =====  =======
progress            46.9       47.6   47.3     15.0
step-done           34.8       32.5   33.0     53.4
guard-passed         6.7        7.4    7.5     13.6
hole-done            2.8        3.2    3.2     12.6
session-start        1.2        1.3    1.2      0.7
checklist-done       1.2        1.3    1.2      0.7
leave                1.2        1.3    1.2      0.7
pause                1.1        1.1    1.0      0.5
go-on                1.1        1.1    1.0      0.5
resumed              1.0        1.1    1.0      0.5
all others           2.2        2.4    2.4      1.6
==============  ========  =========  =====  =======

So there is a sitting to 80 events and a run to 300. A review reads most of the log with the
fewest ``progress``: ``MOST``, a panel of 87 openings, hole by hole, one step a cut.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from itertools import chain, groupby, islice
from typing import Any

from companion.devices.paths import shipped
from companion.journal.model import Entry, Event
from companion.journal.store import Journal
from companion.planner.make import plan_project
from companion.planner.plan import Plan, Project
from companion.planner.project import load_project
from companion.session.resume import plan_key, work_key
from companion.shop.model import Skill
from companion.shop.settings import default_settings
from tests.tools.rehearsals import SAWYERS, walked

PROJECTS = 60
YEARS = 10
_YEAR_S = 365.25 * 86_400.0


@dataclass(frozen=True)
class Way:
    """How a demo is walked."""

    demo: str
    skill: Skill
    each_hole: bool


WAYS = tuple(
    Way(demo, skill, each_hole)
    for each_hole in (False, True)
    for skill in ("beginner", "practised", "terse")
    for demo in SAWYERS
)
MOST = (Way("tide_panel", "practised", True),)
"""That of which a review has most to read."""
LIGHT = (Way("beach_ornaments", "practised", True),)
"""Near the mean of all, and quickly planned."""


@dataclass(frozen=True)
class Recorded:
    """One walk."""

    plan: Plan
    sittings: tuple[tuple[Event, ...], ...]


@cache
def recorded(way: Way) -> Recorded:
    """Plan it and walk it."""
    plan = _plan(way.demo, way.skill)
    who = replace(SAWYERS[way.demo], skill=way.skill, each_hole=way.each_hole)
    each = groupby(walked(plan, who), key=lambda e: e.session)
    return Recorded(plan, tuple(tuple(own) for _, own in each))


@cache
def _plan(demo: str, skill: Skill) -> Plan:
    settings = replace(default_settings(), skill=skill)
    return plan_project(load_project(shipped("demo_projects") / demo), settings)


def fill(
    journal: Journal, events: int, projects: int = PROJECTS, ways: Sequence[Way] = WAYS
) -> None:
    """Write a journal of so many events; the last works are still in hand where it ends."""
    walks = [recorded(ways[p % len(ways)]) for p in range(projects)]
    for p, walk in enumerate(walks):
        journal.keep_plan(_key(walk.plan, p), _named(walk.plan, p).to_json())
    every = islice(chain.from_iterable(_mingled(walks, events)), events)
    while batch := list(islice(every, 20_000)):
        journal.append(batch)


def _mingled(walks: Sequence[Recorded], events: int) -> Iterator[list[Entry]]:
    """All sittings by the calendar, spread over the years."""
    copies, written = 0, 0
    while written < events:
        written += sum(map(len, walks[copies % len(walks)].sittings))
        copies += 1
    times = []
    for copy in range(copies):
        begun_s = YEARS * _YEAR_S * copy / copies
        sittings = walks[copy % len(walks)].sittings
        times += [(own[0].wall_s + begun_s, copy, n) for n, own in enumerate(sittings)]
    chance = random.Random(1)
    names: dict[tuple[int, str], str] = {}
    for begun_s, copy, n in sorted(times):
        p = copy % len(walks)
        walk = walks[p]
        own = walk.sittings[n]
        told = {
            "project": f"Project {p}", "rehearsed": False, "plan": _key(walk.plan, p),
            "work": f"{work_key(walk.plan)}-{p}",
        }  # fmt: skip

        def name(old: str, copy: int = copy) -> str:
            # random as in a real log, whose indexes are in no order of time either
            return names.setdefault((copy, old), f"{chance.getrandbits(64):016x}")

        yield [_told_again(e, begun_s - own[0].wall_s, told, name) for e in own]


def _told_again(
    event: Event, later_s: float, told: Mapping[str, Any], name: Callable[[str], str]
) -> Entry:
    data = dict(event.data)
    for key in told.keys() & data.keys():
        data[key] = told[key]
    for key in {"batch", "from_session"} & data.keys():
        data[key] = name(data[key])
    return Entry(
        event.wall_s + later_s, event.mono_s, name(event.session), event.kind, data,
        None if event.run is None else name(event.run), event.step, event.cut, event.stage,
    )  # fmt: skip


def _named(plan: Plan, project: int) -> Plan:
    return replace(plan, project=Project(f"Project {project}", f"{project:064d}"))


def _key(plan: Plan, project: int) -> str:
    return f"{plan_key(plan)}-{project}"


def mix(ways: Iterable[Way]) -> dict[str, float]:
    """Share of each kind of event in some walks, the most frequent first."""
    counts = Counter(e.kind for way in ways for own in recorded(way).sittings for e in own)
    return {kind: n / counts.total() for kind, n in counts.most_common()}
