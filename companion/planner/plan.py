"""The Plan: the one thing that crosses from the planner to everything above it.

Frozen, complete, and JSON both ways (schema 1). This module imports nothing
heavy: the saw screen opens a cached plan through it without loading geometry.
All places are in board millimetres: origin at the board's top left, y down.
"""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Sequence
from dataclasses import dataclass, field, fields, is_dataclass, replace
from functools import cache
from typing import Any, Literal, cast

from companion.errors import PlanError
from companion.findings import Finding, Point, Severity
from companion.sentence import sentence

SCHEMA = 1

Side = Literal["inside", "outside"]
Direction = Literal["clockwise", "anticlockwise"]
Technique = Literal["spin", "back-out", "loop"]
BladeWay = Literal["", "left", "right", "spiral"]
Stage = Literal[
    "prepare", "drill", "thread", "cut", "lip", "clear",
    "blade", "clamp", "rest", "vacuum", "free", "finish",
]  # fmt: skip
POWERED_STAGES: frozenset[Stage] = frozenset({"cut"})
"""Stages done with the saw running: a power-on guard stands before each."""


@dataclass(frozen=True, slots=True)
class Minutes:
    """A time with its 80 % range, in minutes."""

    low: float
    likely: float
    high: float


ZERO_MINUTES = Minutes(0.0, 0.0, 0.0)
Z80 = 1.2815515655446004
"""90th percentile of the standard normal: 10 % below, 10 % above leave 80 %."""


def ranges_left(parts: Sequence[Minutes], common_spread: float) -> list[Minutes]:
    """Add from each part to the last: what averages out narrows, what is shared stays.

    Args:
        parts: lognormal ranges, each of its own spread and the common one.
        common_spread: spread of the logarithm that all parts share (hand, saw, board).

    Returns:
        One sum more than there are parts; the last is of none.
    """
    likely = variance = 0.0
    sums = [ZERO_MINUTES]
    for part in reversed(parts):
        if part.likely > 0.0:
            own = (math.log(part.high / part.likely) / Z80) ** 2 - common_spread**2
            likely += part.likely
            variance += part.likely**2 * math.expm1(max(0.0, own))
            spread = math.sqrt(math.log1p(variance / likely**2) + common_spread**2)
            wide = math.exp(Z80 * spread)
            sums.append(Minutes(likely / wide, likely, likely * wide))
        else:
            sums.append(sums[-1])
    return sums[::-1]


@dataclass(frozen=True, slots=True)
class Turn:
    """What the blade does at one corner of a cut."""

    at_mm: Point
    """The corner, board mm."""
    angle_deg: float
    """Change of heading, degrees, 0 to 180; the sharper the corner the larger."""
    technique: Technique
    along_mm: float = 0.0
    """Distance from the cut's start along the line in travel direction."""


@dataclass(frozen=True, slots=True)
class Speed:
    """Setting of the saw's dial."""

    dial: float
    of: float
    """Highest mark on that dial."""


@dataclass(frozen=True, slots=True)
class Hole:
    """One drilled entry hole."""

    number: int
    """Its cut's number."""
    at_mm: Point
    drill_mm: float
    cut: int
    drill_name: str = ""
    """How the drill is sold, e.g. ``1.0 mm`` or ``#60``."""


@dataclass(frozen=True, slots=True)
class SizedHole:
    """A round opening that is drilled to size: no blade is threaded there, and no cut made."""

    number: int
    """On sheet and screen; these go on where the numbers of the cuts end."""
    at_mm: Point
    drill_mm: float
    drill_name: str
    opening: int
    """Number of the opening in the pattern (as pins name it)."""
    piece: int
    """Number of the piece it belongs to."""
    within: int
    """Number of the cut that frees that piece."""

    @property
    def around_mm(self) -> float:
        """Length of its edge."""
        return math.pi * self.drill_mm


@dataclass(frozen=True, slots=True)
class Cut:
    """One closed travel of the blade from one hole."""

    number: int
    """Place in the order, from 1."""
    side: Side
    hole: int
    """Number of the hole it starts from."""
    length_mm: float
    """Length of the closed line, lead-in not counted."""
    start_mm: Point
    """Where on the line it starts and ends: the place of the lip."""
    direction: Direction
    """As seen on the board."""
    line_mm: tuple[Point, ...]
    """The pattern line, closed (first point = last = start), in travel order."""
    speed: Speed
    turns: tuple[Turn, ...]
    weakness: float
    """Give of the board under this cut when its turn comes, 1 = the whole board's weakest."""
    hold_mm: tuple[Point, ...]
    """One or two places to hold what will be free."""
    minutes: Minutes
    piece: int = 1
    """Number of the piece it belongs to, from 1."""
    opening: int | None = None
    """Number of the opening in the pattern (as pins name it); None for an outside cut."""
    within: int | None = None
    """Number of the cut whose line encloses this one, nearest; None at the top."""
    lead_mm: tuple[Point, ...] = ()
    """From the hole's centre to the start on the line, both included."""
    clip: tuple[int, ...] = ()
    """Cuts directly inside this one's line: their area is not this cut's waste."""
    area_mm2: float = 0.0
    """Area that comes free: the waste of an inside cut, the piece of an outside cut."""
    reason: str = ""
    """Why it stands at this place in the order."""
    meet_along_mm: float | None = None
    """None: one run. Else the first run stops this far along the line; a second goes
    from the start the other way until the kerfs meet there."""
    blade: BladeWay = ""
    """Empty: the plan's blade, teeth to the front. ``left``, ``right``: turned by 90 degrees, its
    teeth pointing there, seen from the stool. ``spiral``: a spiral blade, the board not turned."""

    @property
    def sawn_mm(self) -> float:
        """Length that is sawn: a vein's one way, since the blade comes back in its kerf."""
        return self.length_mm / 2 if self.comes_back else self.length_mm

    @property
    def comes_back(self) -> bool:
        """Whether its line goes out and back the same way, as a vein's does."""
        return self.is_vein and self.line_mm == self.line_mm[::-1]

    @property
    def is_vein(self) -> bool:
        """A single kerf that frees nothing; its line goes out and back to its hole."""
        return self.side == "inside" and self.opening is None


@dataclass(frozen=True, slots=True)
class Step:
    """One thing the sawyer does and confirms."""

    number: int
    stage: Stage
    cut: int | None
    title: str
    """A few words for the large letters."""
    say: str
    """The spoken prompt: verb first, at most about 12 words."""
    why: str
    """The reason; shown to beginners, one key away for others."""
    minutes: Minutes
    wait_min: float = 0.0
    """What is wet afterwards dries so long, minutes; not part of the step's time; 0: nothing."""
    line_to: float = 1.0
    """Share of its cut's line at which a sawing step ends: under 1 for legs before the last."""


@dataclass(frozen=True, slots=True)
class Board:
    """The blank as it is planned."""

    material: str
    thickness_mm: float
    """Of one board."""
    stack: int
    width_mm: float
    height_mm: float


@dataclass(frozen=True, slots=True)
class Blade:
    """The chosen blade and the drill that passes it."""

    number: str
    kerf_mm: float
    drill_mm: float
    blades_needed: int


@dataclass(frozen=True, slots=True)
class Project:
    """What was planned."""

    name: str
    pattern_sha256: str


@dataclass(frozen=True, slots=True)
class Neck:
    """A narrow place of a piece."""

    at_mm: Point
    thickness_mm: float
    force_n: float | None = None
    """Smallest sideways force that breaks it, newtons; None when not computed."""
    piece: int = 1


def neck_name(number: int) -> str:
    """What lists and pictures call a neck; 1 is the weakest.

    >>> neck_name(3)
    'N3'
    """
    return f"N{number}"


@dataclass(frozen=True, slots=True)
class Plan:
    """All that is needed at the saw."""

    project: Project
    board: Board
    blade: Blade
    pieces: int
    openings: int
    kept_area_mm2: float
    findings: tuple[Finding, ...]
    holes: tuple[Hole, ...]
    cuts: tuple[Cut, ...]
    """In the order in which they are made; ``cuts[i].number == i + 1``."""
    steps: tuple[Step, ...]
    minutes: Minutes
    necks: tuple[Neck, ...] = ()
    """The narrowest places, weakest first."""
    fasteners_mm: tuple[Point, ...] = ()
    """Places for pins or screws that hold a stack; empty: tape."""
    trim_mm: tuple[Point, ...] = ()
    """Corners of the board that is left when it is trimmed before the first cut; empty: not."""
    common_spread: float = 0.0
    """Spread of the logarithm that all minutes share; see :func:`ranges_left`."""
    to_size: tuple[SizedHole, ...] = ()
    """Round openings that are drilled to size, in drilling order; they have no cut."""
    schema: int = field(default=SCHEMA)

    @property
    def has_stop(self) -> bool:
        """Whether a finding forbids cutting."""
        return any(f.severity == "stop" for f in self.findings)

    @property
    def drilled(self) -> tuple[Hole | SizedHole, ...]:
        """All that is drilled: entry holes, then what is drilled to size."""
        return (*self.holes, *self.to_size)

    @property
    def finish_min(self) -> float:
        """Likely minutes of the work after the last cut; part of ``minutes``."""
        return sum(s.minutes.likely for s in self.steps if s.stage == "finish")

    @property
    def drying_min(self) -> float:
        """Minutes of drying after the last cut; no part of ``minutes``."""
        return sum(s.wait_min for s in self.steps if s.stage == "finish")

    @property
    def short_hash(self) -> str:
        """Eight hex digits that name this plan on the sheet and on the screen.

        They name what is drilled and cut, not its minutes and words: a sheet on the board
        stays good when the log has taught the plan other times.

        >>> len(EMPTY.short_hash)
        8
        """
        cuts = [replace(c, minutes=ZERO_MINUTES, reason="") for c in self.cuts]
        # a plan that drills nothing to size keeps the name it had before such plans were
        sized = [self.to_size] if self.to_size else []
        text = _json([self.project, self.board, self.blade.number, self.holes, cuts, *sized])
        return hashlib.sha256(text.encode()).hexdigest()[:8]

    def to_json(self) -> str:
        """Serialise, schema 1; equal plans give equal text."""
        return _json(self)


def _json(value: object) -> str:
    # one line: the indented form is written without the library's compiled encoder, and with a
    # thousand openings that half second passes between the start at the saw and its first step
    return json.dumps(_plain(value), ensure_ascii=False)


@cache
def _names(kind: type[Any]) -> tuple[str, ...]:
    return tuple(f.name for f in fields(kind))


def _plain(value: Any) -> Any:  # noqa: ANN401  # JSON is untyped by nature
    """Dataclasses as objects, every number rounded to 1e-4 (0.1 micrometre): stable and short."""
    if isinstance(value, float):
        return round(value, 4)
    if isinstance(value, list | tuple):
        return [_plain(v) for v in value]
    if is_dataclass(value):
        kind: Any = type(value)
        return {name: _plain(getattr(value, name)) for name in _names(kind)}
    return value


def _point(value: Any) -> Point:  # noqa: ANN401
    return (float(value[0]), float(value[1]))


def _points(value: Any) -> tuple[Point, ...]:  # noqa: ANN401
    return tuple((float(p[0]), float(p[1])) for p in value)


def _minutes(value: Any) -> Minutes:  # noqa: ANN401
    return Minutes(float(value["low"]), float(value["likely"]), float(value["high"]))


def _cut(d: dict[str, Any]) -> Cut:
    return Cut(
        number=d["number"], side=d["side"], hole=d["hole"], length_mm=d["length_mm"],
        start_mm=_point(d["start_mm"]), direction=d["direction"], line_mm=_points(d["line_mm"]),
        speed=Speed(d["speed"]["dial"], d["speed"]["of"]),
        turns=tuple(
            Turn(_point(t["at_mm"]), t["angle_deg"], t["technique"], t.get("along_mm", 0.0))
            for t in d["turns"]
        ),
        weakness=d["weakness"], hold_mm=_points(d["hold_mm"]), minutes=_minutes(d["minutes"]),
        piece=d.get("piece", 1), opening=d.get("opening"), within=d.get("within"),
        lead_mm=_points(d.get("lead_mm", ())), clip=tuple(d.get("clip", ())),
        area_mm2=d.get("area_mm2", 0.0), reason=d.get("reason", ""),
        meet_along_mm=d.get("meet_along_mm"), blade=d.get("blade", ""),
    )  # fmt: skip


def _finding(d: dict[str, Any]) -> Finding:
    at = d["at_mm"]
    return Finding(
        d["code"], cast(Severity, d["severity"]), None if at is None else _point(at),
        d["text"], d["remedy"], d.get("size_mm"),
    )  # fmt: skip


def plan_from_json(text: str) -> Plan:
    """Read what :meth:`Plan.to_json` wrote.

    Raises:
        PlanError: not JSON, another schema, or a key missing.
    """
    try:
        d = json.loads(text)
        if d["schema"] != SCHEMA:
            raise PlanError(
                sentence(
                    "the plan has schema {d}, this version reads {schema}",
                    d=d["schema"],
                    schema=SCHEMA,
                ),
                "",
                "Make the plan again with this version.",
            )
        return Plan(
            project=Project(**d["project"]), board=Board(**d["board"]), blade=Blade(**d["blade"]),
            pieces=d["pieces"], openings=d["openings"], kept_area_mm2=d["kept_area_mm2"],
            findings=tuple(_finding(f) for f in d["findings"]),
            holes=tuple(
                Hole(h["number"], _point(h["at_mm"]), h["drill_mm"], h["cut"],
                     h.get("drill_name", ""))
                for h in d["holes"]
            ),
            cuts=tuple(_cut(c) for c in d["cuts"]),
            steps=tuple(
                Step(s["number"], s["stage"], s["cut"], s["title"], s["say"], s["why"],
                     _minutes(s["minutes"]), float(s.get("wait_min", 0.0)),
                     float(s.get("line_to", 1.0)))
                for s in d["steps"]
            ),
            minutes=_minutes(d["minutes"]),
            necks=tuple(
                Neck(_point(n["at_mm"]), n["thickness_mm"], n["force_n"], n["piece"])
                for n in d.get("necks", ())
            ),
            fasteners_mm=_points(d.get("fasteners_mm", ())),
            trim_mm=_points(d.get("trim_mm", ())),
            common_spread=float(d.get("common_spread", 0.0)),
            to_size=tuple(
                SizedHole(h["number"], _point(h["at_mm"]), h["drill_mm"], h["drill_name"],
                          h["opening"], h["piece"], h["within"])
                for h in d.get("to_size", ())
            ),
        )  # fmt: skip
    except (KeyError, TypeError, ValueError, IndexError, AttributeError) as error:
        raise PlanError(
            "the stored plan cannot be read", repr(error), "Make the plan again."
        ) from error


EMPTY = Plan(
    Project("", ""), Board("", 0.0, 1, 0.0, 0.0), Blade("", 0.0, 0.0, 0),
    0, 0, 0.0, (), (), (), (), ZERO_MINUTES,
)  # fmt: skip
"""A plan of nothing, for tests and defaults."""
