"""Pictures of the work seen from the side: blade, board, table, clamp, dust, and a clock.

One function a page, named as the page. The table is the line below, the teeth look right.
"""

from __future__ import annotations

import math
from collections.abc import Callable

from companion.draw import marks
from companion.draw.sketch import Picture, Points, Sketch, bow, box, closed, ring

TABLE_MM = 40.0
"""Height of the table's top in the picture."""


def teeth(x: float, top: float, bottom: float, pitch: float, deep: float = 2.0) -> Points:
    """The toothed side of a blade: points that look down and forward."""
    found = []
    y = top
    while y + pitch <= bottom:
        found += [(x, y), (x + deep, y + pitch), (x, y + pitch)]
        y += pitch
    return tuple(found)


def _saw(s: Sketch, x: float, top: float, bottom: float, pitch: float, deep: float = 2.0) -> Sketch:
    return s.line("start", ((x - 1.4, top), (x - 1.4, bottom)), teeth(x, top, bottom, pitch, deep))


def _table(s: Sketch, left: float, right: float, gap: float) -> Sketch:
    """The table with its slot for the blade."""
    y = TABLE_MM
    return s.line("board", ((left, y), (gap - 3, y)), ((gap + 4, y), (right, y)))


def _drill_first() -> Picture:
    s = Sketch().keep(box(10, 22, 80, 9)).wood(box(10, 31, 80, 9))
    s.line("board", ((4, 40), (96, 40)))
    for x in (30, 70):
        s.line("start", ((x - 1.5, 4), (x - 1.5, 33), (x, 35), (x + 1.5, 33), (x + 1.5, 4)))
        s.line("start", *(((x - 1.5, y + 2), (x + 1.5, y)) for y in range(5, 31, 4)))
    return s.arrow((50, 6), (50, 18)).done()


def _teeth() -> Picture:
    s = Sketch().wood(box(4, 18, 40, 14)).wood(box(56, 22, 40, 5))
    _saw(s, 22, 3, 47, 5, 2.6)
    _saw(s, 74, 3, 47, 13, 5)
    return s.tick((38, 8)).cross((92, 8)).done()


def _stacking() -> Picture:
    s = Sketch()
    for y in (19, 26, 33):
        s.keep(box(4, y, 40, 7))
    s.line(
        "fastener",
        ((9, 17), (9, 40)),
        ((7, 17), (11, 17)),
        ((39, 17), (39, 40)),
        ((37, 17), (41, 17)),
    )
    s.line("start", ((24, 4), (24, 47)))
    for y in (5, 12, 19, 26, 33):
        s.keep(box(56, y, 40, 7))
    s.line("lead", ((76, 2), (76, 48)))
    return s.line("start", bow(76, 2, 48, 3.2)).line("board", ((2, 40), (98, 40))).done()


def _threading() -> Picture:
    s = Sketch().wood(box(14, 28, 32, 9)).wood(box(50, 28, 36, 9))
    s.line("hole", ((46, 28), (46, 37)), ((50, 28), (50, 37)))
    _saw(s, 48.5, 6, 48, 4, 1.4)
    s.line("board", box(43, 1, 11, 5), ((4, 38), (45, 38)), ((52, 38), (96, 38)))
    s.arrow((38, 49), (38, 42)).line("note", marks.arc((48, 17), 9, -35, 70))
    return s.line("note", marks.arc((48, 17), 12, -35, 70)).done()


def _let_the_blade_cut() -> Picture:
    s = Sketch()
    for x, deep in ((24, 0.0), (74, -6.0)):
        s.wood(box(x + 1, 18, 22, 20)).line(
            "lead", ((x - 14, 18), (x, 18)), ((x - 14, 38), (x, 38))
        )
        s.line("start", bow(x, 2, 48, deep))
        s.line("board", ((x - 18, TABLE_MM), (x + 24, TABLE_MM)))
    s.arrow((47, 28), (40, 28)).tick((8, 8))
    for y in (22, 28, 34):
        s.arrow((99.5, y), (92, y), role="note")
    return s.cross((58, 8)).done()


def _drift() -> Picture:
    s = Sketch().wood(closed((26, 4), (88, 12), (83, 48), (21, 40)))
    s.line("lead", ((55, 26), (58.6, 1.5))).line("start", ((55, 26), (51.8, 45)))
    s.line("board", ((55, 24), (55, 1))).blade((55, 25), -90.0)
    return s.arrow((69, 46), (74, 14)).line("note", marks.arc((55, 26), 20, -90, 8.5)).done()


def _tension() -> Picture:
    s = Sketch()
    for x, deep in ((26, 1.2), (76, 7.0)):
        s.line("board", box(x - 5, 1, 10, 5), box(x - 5, 44, 10, 5))
        s.line("lead", ((x, 6), (x, 44))).line("start", bow(x, 6, 44, deep))
        s.finger((x + deep - 0.2, 25), 0.0, 12.0)
    return s.tick((44, 9)).cross((94, 9)).done()


def _blade_slips() -> Picture:
    s = Sketch().line("board", box(40, 3, 9, 16), box(51, 3, 9, 16))
    s.line("note", ((40, 5), (60, 5))).line(
        "start", ((49.4, 11), (49.4, 40), (50.6, 40), (50.6, 11), (49.4, 11))
    )
    s.arrow((44.5, 30), (44.5, 40), role="note")
    s.line("neck", ((50, 5.5), (50, 10.5)), ((48.5, 7), (50, 5.5), (51.5, 7)))
    for x in (66, 71, 76):
        s.line("note", ((x, 22), (x + 2, 18), (x + 4, 22)))
    return s.line("lead", bow(50, 19, 48, 4)).done()


def _dull_blade() -> Picture:
    s = Sketch().wood(box(4, 16, 40, 6)).wood(box(4, 40, 40, 6))
    sharp, dull = [], []
    for k in range(8):
        x = 10 + 4.0 * k
        sharp += [(x, 10), (x + 3, 16), (x + 4, 10)]
        dull += [(x, 34), *marks.arc((x + 2.2, 38), 1.6, 150, -120), (x + 4, 34)]
    s.line("start", sharp).line("start", dull)
    for k in range(4):
        s.line("arrow", marks.arc((58 + 9 * k, 14 - 2 * k), 3, 180, 200))
    for k in range(4):
        s.line("note", [(56 + 9 * k + 1.5 * math.sin(t), 42 - 2.2 * t) for t in range(7)])
    return s.tick((94, 16)).cross((94, 42)).done()


def _clear_waste() -> Picture:
    s = Sketch().keep(box(4, 28, 32, 11)).keep(box(64, 28, 32, 11))
    s.wood(closed((40, 20), (60, 28), (56, 38), (36, 30)))
    s.line("board", ((2, TABLE_MM), (58, TABLE_MM)), ((66, TABLE_MM), (98, TABLE_MM)))
    _saw(s, 62, 3, 48, 5)
    s.line("neck", ring(61, 29, 4)).arrow((46, 18), (40, 6))
    return s.done()


def _rest() -> Picture:
    s = Sketch()
    for x, minutes, role in ((20, 300.0, "start"), (50, 60.0, "hold"), (80, 300.0, "start")):
        s.line("board", ring(x, 25, 12))
        s.line(role, ((x, 25), *marks.arc((x, 25), 9.5, -90, minutes), (x, 25)))  # type: ignore[arg-type]
    return s.arrow((33.5, 25), (37, 25), head=1.6).arrow((63.5, 25), (67, 25), head=1.6).done()


def _dust() -> Picture:
    s = Sketch().wood(box(14, 30, 60, 8))
    s.line("board", ((6, TABLE_MM), (44, TABLE_MM)), ((52, TABLE_MM), (92, TABLE_MM)))
    _saw(s, 48, 4, 49, 4)
    s.line("fastener", ((97, 8), (74, 14), (60, 22), (57, 27), (64, 29), (76, 22), (97, 17)))
    for k in range(14):
        a = 0.9 * k
        x, y = 40 - 2.4 * k + 2 * math.cos(3 * a), 27 - 1.5 * k + 3 * math.sin(5 * a)
        s.line("note", ring(x, y, 0.5))
    return s.arrow((54, 27), (66, 21)).done()


def _finish() -> Picture:
    s = Sketch()
    for k, (x, coats) in enumerate(((4, 0), (36, 1), (68, 3))):
        s.keep(box(x, 20, 26, 24))
        rough = [(x + 1.3 * i, 20 - (i % 2) * (2.2, 0.0, 0.0)[k]) for i in range(21)]
        s.line("neck" if k == 0 else "start", rough)
        for c in range(coats):
            s.line("start", ((x, 18 - 2.4 * c), (x + 26, 18 - 2.4 * c)))
    return s.arrow((31, 32), (35, 32), head=1.8).arrow((63, 32), (67, 32), head=1.8).done()


SIDE: dict[str, Callable[[], Picture]] = {
    "drill-first": _drill_first, "teeth": _teeth, "stacking": _stacking, "threading": _threading,
    "let-the-blade-cut": _let_the_blade_cut, "drift": _drift, "tension": _tension,
    "blade-slips": _blade_slips, "dull-blade": _dull_blade, "clear-waste": _clear_waste,
    "rest": _rest, "dust": _dust, "finish": _finish,
}  # fmt: skip
"""Pictures by page."""
