"""Plans made by formula, so that screens and maps can be tested without the planner."""

from __future__ import annotations

import math
from dataclasses import replace

from companion.findings import Point
from companion.planner.plan import (
    Blade,
    Board,
    Cut,
    Hole,
    Minutes,
    Neck,
    Plan,
    Project,
    SizedHole,
    Speed,
    Stage,
    Step,
    Turn,
)

Ring = tuple[Point, ...]


def star(x: float, y: float, outer: float, inner: float, points: int) -> Ring:
    """A closed star, clockwise on the screen."""
    ring = []
    for n in range(points * 2):
        r = outer if n % 2 == 0 else inner
        a = math.pi * n / points - math.pi / 2
        ring.append((x + r * math.cos(a), y + r * math.sin(a)))
    return (*ring, ring[0])


def circle(x: float, y: float, r: float, n: int = 48) -> Ring:
    """A closed circle, clockwise on the screen."""
    ring = [
        (x + r * math.cos(2 * math.pi * i / n), y + r * math.sin(2 * math.pi * i / n))
        for i in range(n)
    ]
    return (*ring, ring[0])


def _length(ring: Ring) -> float:
    return sum(math.dist(a, b) for a, b in zip(ring, ring[1:], strict=False))


def _cut(number: int, ring: Ring, hole: Point, side: str, within: int | None, corners: int) -> Cut:
    length = _length(ring)
    kinds = ("spin", "back-out", "loop")
    turns = []
    if corners:
        along = 0.0
        for n, at in enumerate(ring[1:-1]):
            along += math.dist(ring[n], at)
            turns.append(Turn(at, 100.0 + n, kinds[n % 3], along))  # type: ignore[arg-type]
    minutes = length / 60.0
    return Cut(
        number=number,
        side="inside" if side == "inside" else "outside",
        hole=number,
        length_mm=length,
        start_mm=ring[0],
        direction="clockwise",
        line_mm=ring,
        speed=Speed(4, 8),
        turns=tuple(turns),
        weakness=0.4,
        hold_mm=((ring[0][0] - 12.0, ring[0][1] + 6.0),),
        minutes=Minutes(minutes * 0.7, minutes, minutes * 1.5),
        opening=number if side == "inside" else None,
        within=within,
        lead_mm=(hole, ring[0]),
        area_mm2=100.0,
        reason="It weakens the board least at this point.",
    )


def steps_for(cuts: tuple[Cut, ...]) -> tuple[Step, ...]:
    """A plain round of steps for some cuts."""
    found: list[Step] = []

    def add(stage: Stage, cut: int | None, title: str, say: str, why: str, m: float) -> None:
        found.append(
            Step(len(found) + 1, stage, cut, title, say, why, Minutes(m * 0.7, m, m * 1.5))
        )

    add("prepare", None, "Glue the sheet", "Glue the sheet to the board, smooth side up.",
        "The line you see is the line you cut.", 5)  # fmt: skip
    add("drill", None, "Drill the holes", f"Drill {len(cuts)} holes with the 1.5 mm drill.",
        "Drilled upright, the blade stands square.", 3)  # fmt: skip
    for cut in cuts:
        n = cut.number
        add("thread", n, f"Thread hole {n}", f"Thread the blade up through hole {n}.",
            "The teeth point down and to you.", 1)  # fmt: skip
        add("cut", n, f"Cut {n}", f"Cut {n}, clockwise. Keep the waste on your left.",
            cut.reason, cut.minutes.likely)  # fmt: skip
        add("lip", n, "Clean the lip", "Touch up the place where start and end meet.",
            "The nub shows under paint.", 0.5)  # fmt: skip
        add("clear", n, "Take the waste out", "Stop. Take the waste out of the board.",
            "A loose bit catches the blade.", 0.5)  # fmt: skip
    add("free", None, "Free the piece", "Lift the piece out of the frame.", "It is done.", 1)
    add("finish", None, "Peel the sheet", "Warm the sheet and peel it off.", "Glue softens.", 4)
    return tuple(found)


def plan_of(cuts: tuple[Cut, ...], width_mm: float, height_mm: float) -> Plan:
    """Wrap cuts into a plan."""
    steps = steps_for(cuts)
    likely = sum(s.minutes.likely for s in steps)
    return Plan(
        project=Project("Harbour star", "0" * 64),
        board=Board("mdf", 6.0, 2, width_mm, height_mm),
        blade=Blade("3", 1.0, 1.5, 2),
        pieces=1,
        openings=len(cuts) - 1,
        kept_area_mm2=1000.0,
        findings=(),
        holes=tuple(Hole(c.number, c.lead_mm[0], 1.5, c.number, "1.5 mm") for c in cuts),
        cuts=cuts,
        steps=steps,
        minutes=Minutes(likely * 0.7, likely, likely * 1.5),
        necks=(Neck((62.0, 70.0), 3.2, 14.0),),
    )


def small_plan() -> Plan:
    """A round plate with a star, a disc and an oblong opening: three inside cuts, one outside."""
    cuts = (
        _cut(1, star(60, 48, 22, 10, 5), (60, 48), "inside", 4, 5),
        _cut(2, circle(92, 82, 11), (92, 82), "inside", 4, 0),
        _cut(3, ((30, 78), (58, 78), (58, 92), (30, 92), (30, 78)), (44, 85), "inside", 4, 4),
        _cut(4, circle(70, 64, 56, 96), (130, 64), "outside", None, 0),
    )
    return plan_of(cuts, 150.0, 130.0)


def sized_plan() -> Plan:
    """The same with two openings that are drilled to size, with a drill of their own."""
    made = small_plan()
    drill = next(i for i, s in enumerate(made.steps) if s.stage == "drill")
    steps = list(made.steps)
    steps.insert(drill + 1, replace(
        steps[drill], title="To size 6.0 mm",
        say="Clamp board and backing; drill holes 5, 6 to size, 6.0 mm.",
        why="The drill makes the whole opening: nothing is threaded or sawn there.",
    ))  # fmt: skip
    return replace(
        made, openings=5,
        to_size=(SizedHole(5, (90.0, 34.0), 6.0, "6.0 mm", 4, 1, 4),
                 SizedHole(6, (75.0, 105.0), 6.0, "6.0 mm", 5, 1, 4)),
        steps=tuple(replace(s, number=n) for n, s in enumerate(steps, 1)),
    )  # fmt: skip


def chores_plan() -> Plan:
    """The small plan with all that comes between cuts and after them."""
    plan = small_plan()
    after = next(s.number for s in plan.steps if s.stage == "clear")
    between: list[tuple[Stage, str, str, str]] = [
        ("blade", "New blade", "Saw off and unplugged. Put in a new number 3 blade.",
         "A dull blade pushes the line aside and burns."),
        ("clamp", "Clamp again", "Turn the board round and clamp it again.",
         "The next cut lies beyond the arm's reach."),
        ("rest", "Rest", "Rest your hands and eyes for five minutes.",
         "Tired hands push; a pushed blade wanders."),
        ("vacuum", "Vacuum", "Vacuum the table and the board.",
         "Dust hides the line and lifts the board."),
    ]  # fmt: skip
    finish = [
        ("Sand both faces", "Sand both faces, 150 then 220 grit.", 0.0),
        ("Fill the gaps", "Fill what tore out.", 60.0),
        ("Seal the edges", "Brush sealer on all edges.", 120.0),
        ("Paint, first coat", "Paint thinly; let no puddles stand.", 240.0),
    ]
    steps = list(plan.steps[:after])
    minutes = Minutes(2.0, 3.0, 5.0)
    steps += [Step(0, s, None, title, say, why, minutes) for s, title, say, why in between]
    steps += plan.steps[after:]
    steps += [Step(0, "finish", None, title, say, "Each coat must be dry before the next.",
                   minutes, wait) for title, say, wait in finish]  # fmt: skip
    return replace(plan, steps=tuple(replace(s, number=n) for n, s in enumerate(steps, 1)))


def many_plan(across: int, down: int) -> Plan:
    """A panel with a grid of stars, cut row by row, then its outline."""
    outside = across * down + 1
    cuts = tuple(
        _cut(1 + i + j * across, star(15 + 10 * i, 15 + 10 * j, 4, 2, 5),
             (15 + 10 * i, 15 + 10 * j), "inside", outside, 5)
        for j in range(down) for i in range(across)
    )  # fmt: skip
    w, h = 20.0 + 10 * across, 20.0 + 10 * down
    rim = ((6.0, 6.0), (w - 6, 6.0), (w - 6, h - 6), (6.0, h - 6), (6.0, 6.0))
    return plan_of((*cuts, _cut(outside, rim, (3.0, 3.0), "outside", None, 4)), w, h)
