"""Pictures of the board seen from above: order, holes, turns, weak places, the drawing itself.

One function a page, named as the page. Striped wood goes, plain wood stays.
"""

from __future__ import annotations

import math
from collections.abc import Callable

from companion.draw import marks
from companion.draw.sketch import Picture, Points, Sketch, box, closed, ring
from companion.findings import Point

LEFT, RIGHT = 25.0, 75.0
"""Middles of the two halves of a picture."""


def star(at: Point, outer: float, inner: float, points: int, turn_deg: float = -90.0) -> Points:
    """A closed star."""
    corners = []
    for i in range(2 * points):
        a, r = math.radians(turn_deg + 180.0 * i / points), (outer, inner)[i % 2]
        corners.append((at[0] + r * math.cos(a), at[1] + r * math.sin(a)))
    return closed(*corners)


def _inside_first() -> Picture:
    frame, piece = box(8, 2, 84, 46), box(18, 8, 64, 34)
    s = Sketch().wood(frame, piece).keep(piece)
    for n, x in ((1, 34.0), (2, 66.0)):
        s.wood(ring(x, 25, 9)).number(str(n), (x, 25))
    return s.number("3", (13, 25)).arrow((78, 45), (50, 45)).done()


def _not_from_edge() -> Picture:
    # the slot runs in from the left edge, and the frame's two arms have moved apart
    opened = closed(
        (3, 4), (46, 5), (46, 45), (3, 42), (3, 28), (17, 26.5), (17, 34), (33, 34), (33, 16),
        (17, 16), (17, 25), (3, 23),
    )  # fmt: skip
    s = Sketch().wood(opened).arrow((1, 25.3), (12, 25.6)).cross((9, 35))
    right, opening = box(54, 5, 42, 40), box(67, 16, 16, 18)
    s.wood(right, opening).wood(opening).line("hole", ring(71, 30, 1.6)).blade((71, 30))
    return s.arrow((71, 30), (68.2, 27), (68.2, 19)).tick((60, 35)).done()


def _stiff_order() -> Picture:
    places = [(22 + 19 * i, 9 + 16 * j) for j in range(3) for i in range(4)]
    order = {5: 1, 6: 2, 1: 3, 9: 4, 2: 5, 10: 6, 4: 7, 7: 8, 0: 9, 3: 10, 8: 11, 11: 12}
    board = box(10, 1, 81, 48)
    s = Sketch().keep(board)
    for k, at in enumerate(places):
        s.wood(ring(at[0], at[1], 5.2)).number(str(order[k]), at)
    return s.done()


def _sheet() -> Picture:
    s = Sketch().wood(box(20, 6, 66, 40), box(22, 8, 48, 32)).keep(box(22, 8, 48, 32))
    s.line("fastener", ((22.6, 20), (22.6, 8.6), (34, 8.6))).line("piece-line", ring(46, 24, 9))
    s.arrow((28, 13), (62, 35))
    return s.line("meet", ((26, 37), (36, 37)), ((26, 36), (26, 38)), ((36, 36), (36, 38))).done()


def _hole_room() -> Picture:
    s = Sketch().keep(box(3, 3, 44, 44)).wood(ring(LEFT, 25, 14))
    s.line("hole", ring(LEFT, 25, 6)).blade((LEFT, 25), 30.0, 10.0).tick((9, 9))
    s.keep(box(53, 3, 44, 44)).wood(ring(RIGHT, 25, 5))
    return s.line("hole", ring(RIGHT, 25, 6)).blade((RIGHT, 25), 30.0, 10.0).cross((59, 9)).done()


def _lip() -> Picture:
    nub = marks.arc((30, 24), 2.5, 180.0, 180.0)
    s = Sketch().keep(closed((3, 24), *nub, (47, 24), (47, 44), (3, 44)))
    s.wood(closed((3, 5), (47, 5), (47, 22.5), (34, 22.5), (30, 19.5), (26, 22.5), (3, 22.5)))
    s.line("neck", ring(30, 23, 5)).keep(box(56, 24, 41, 20))
    s.line("start", closed((62, 19), (90, 19), (90, 23), (62, 23)), ((90, 21), (97, 21)))
    s.line("start", *(((x, 19), (x - 2, 23)) for x in range(66, 90, 4)))
    return s.arrow((66, 15), (86, 15)).arrow((86, 11), (66, 11)).done()


def _hands() -> Picture:
    s = Sketch().wood(box(12, 3, 76, 44), ring(50, 16, 9)).keep(ring(50, 16, 9))
    s.blade((50, 25.6), 90.0).line("neck", ((50, 29), (41, 47)), ((50, 29), (59, 47)))
    s.arrow((50, 46), (50, 33))
    for k, y in enumerate((16, 21.5, 27)):
        s.finger((32 + (3, 1.5, 0)[k], y), 8.0).finger((68 - (3, 1.5, 0)[k], y), 172.0)
    return s.done()


def _spin() -> Picture:
    s = Sketch().keep(
        closed((4, 4), (96, 4), (96, 46), (70, 46), (70, 18), (22, 18), (22, 46), (4, 46))
    )
    s.wood(closed((22, 18), (70, 18), (70, 46), (22, 46)))
    s.arrow((24, 40), (24, 28)).line("hole", ring(25.6, 21.6, 3.0)).blade((25.6, 21.6), -45.0, 5.5)
    s.line("arrow", marks.arc((25.6, 21.6), 6.5, -100.0, 90.0))
    return s.arrow((31.6, 19.2), (32, 21.4)).arrow((34, 20), (56, 20)).done()


def _back_out() -> Picture:
    tip, left, right = (50.0, 6.0), (34.0, 46.0), (66.0, 46.0)
    s = Sketch().keep(closed((6, 3), (94, 3), (94, 47), right, tip, left, (6, 47)))
    s.wood(closed(left, tip, right))
    s.arrow((38.5, 42), (48.2, 15.5), role="start").number("1", (38, 28))
    s.arrow((50, 18), (44, 36), (55.5, 36), role="lead").number("2", (50, 42))
    return s.arrow((61.5, 42), (51.8, 15.5), role="start").number("3", (62.5, 28)).done()


def _loop() -> Picture:
    piece = closed((3, 20), (52, 25), (3, 44))
    s = Sketch().wood(box(3, 3, 94, 44), piece).keep(piece)
    s.arrow((12, 19.4), (50, 23.4)).arrow((46, 28.8), (12, 42))
    way = ((52.0, 25.0), (70, 26.8), *marks.arc((71, 17.3), 9.5, 96.0, -250.0), (52, 25))
    return s.line("start", way).line("meet", ring(52, 25, 1.2)).done()


def _necks() -> Picture:
    body = closed((6, 8), (38, 8), (44, 22), (60, 22), (70, 14), (94, 14), (94, 38), (70, 38),
                  (60, 27), (44, 27), (38, 42), (6, 42))  # fmt: skip
    s = Sketch().keep(body)
    for chevron in marks.pinch((51, 24.5), 5.0, (0.0, 1.0)):
        s.line("neck", chevron)
    return s.arrow((86, 48), (86, 40), role="note").line("neck", ((51, 20), (51, 29))).done()


def _islands() -> Picture:
    s = Sketch().keep(box(3, 3, 44, 44)).wood(ring(LEFT, 25, 17), ring(LEFT, 25, 8))
    s.keep(ring(LEFT, 25, 8)).arrow((LEFT, 25), (LEFT + 9, 42), role="note").cross((8, 8))
    s.keep(box(53, 3, 44, 44))
    for start in (10.0, 190.0):
        outer = marks.arc((RIGHT, 25), 17, start, 160.0)
        inner = marks.arc((RIGHT, 25), 8, start + 160.0 - 8.0, -144.0)
        s.wood(closed(*outer, *inner))
    return s.tick((58, 8)).done()


def _kerf_room() -> Picture:
    s = Sketch().keep(box(3, 4, 44, 42)).wood(box(22, 10, 7, 36)).blade((25.5, 30), -90.0, 8.0)
    s.tick((9, 10)).keep(box(53, 4, 44, 42)).wood(box(66, 10, 1.2, 36)).blade(
        (66.6, 30), -90.0, 8.0
    )
    s.cross((59, 10)).wood(
        closed((78, 46), (78, 18), *marks.arc((82, 18), 4, 180, 90), (97, 14), (97, 46))
    )
    return s.line("neck", ((78, 18), (78, 14), (82, 14))).done()


def _edge_frame() -> Picture:
    board, piece = box(6, 3, 88, 44), box(16, 10, 76, 28)
    s = Sketch().wood(board, piece).keep(piece)
    s.arrow((8, 24), (14.5, 24)).arrow((14, 24), (7.5, 24))
    return s.line("neck", ((92, 16), (96, 18)), ((92, 22), (97, 22)), ((92, 28), (96, 26))).done()


def _small_parts() -> Picture:
    s = Sketch().wood(box(6, 3, 88, 44), ring(50, 25, 7)).keep(ring(50, 25, 7))
    s.line("fastener", box(38, 22, 24, 6)).line("neck", ring(50, 25, 18)).blade((50, 33.4), 0.0)
    return s.finger((31, 25), 0.0).finger((69, 25), 180.0).done()


def _reach() -> Picture:
    s = Sketch().wood(closed((30, 30), (62, 12), (74, 33), (42, 51 - 0.5)))
    s.blade((52, 38), -90.0).line("board", box(2, 2, 96, 5)).line("board", box(46, 7, 12, 3))
    far = (62.0, 12.0)
    radius = math.dist(far, (52, 38))
    s.line("neck", marks.arc((52, 38), radius, -69.0, -40.0))
    return s.arrow((58.2, 10.9), (50, 10.2), role="note").cross((50, 9)).done()


def _veins() -> Picture:
    s = Sketch().wood(box(4, 4, 92, 42), box(20, 9, 68, 32)).keep(box(20, 9, 68, 32))
    line = [(20 + t * 0.58, 25 + 7 * math.sin(t / 9.0)) for t in range(0, 101, 4)]
    s.line("start", line).line("hole", ring(17.2, 25, 1.8))
    s.arrow((36, 36.5), (62, 36.5))
    return s.arrow((62, 14), (36, 14), role="lead").done()


def _mends() -> Picture:
    gap = marks.arc((LEFT, 25), 16, 20.0, 325.0)
    s = Sketch().line("piece-line", gap).line("neck", ring(LEFT + 15.6, 23, 4))
    s.keep(closed(*marks.arc((66, 25), 14, 40.0, 280.0), *marks.arc((84, 25), 10, -115.0, 230.0)))
    s.line("lead", ring(66, 25, 14), ring(84, 25, 10))
    return s.done()


def _left_out() -> Picture:
    s = (
        Sketch()
        .line("lead", box(6, 8, 36, 34))
        .line("note", ((14, 14), (34, 14)), ((24, 14), (24, 36)))
    )
    s.arrow((44, 25), (55, 25))
    return s.keep(
        closed((60, 9), (94, 9), (94, 17), (81, 17), (81, 42), (73, 42), (73, 17), (60, 17))
    ).done()


def _lines_or_ink() -> Picture:
    s = Sketch().keep(ring(LEFT, 25, 16)).blade((LEFT + 16, 25), 90.0)
    s.keep(ring(RIGHT, 25, 20)).wood(ring(RIGHT, 25, 12))
    return s.blade((RIGHT + 20, 25), 90.0).blade((RIGHT + 12, 25), 90.0).done()


def _size() -> Picture:
    s = Sketch().keep(star((14, 40), 6, 2.6, 5)).keep(star((62, 26), 23, 10, 5))
    s.line("meet", ((8, 48), (20, 48)), ((8, 47), (8, 49)), ((20, 47), (20, 49)))
    s.line("meet", ((40, 48), (84, 48)), ((40, 47), (40, 49)), ((84, 47), (84, 49)))
    return s.arrow((22, 34), (38, 28)).done()


def _pins() -> Picture:
    s = Sketch().keep(box(6, 4, 88, 42)).wood(ring(50, 25, 16))
    s.line("fastener", ((62, 14), (62, 4), (70, 7), (62, 10))).line("hole", ring(57, 19, 1.6))
    s.cross((40, 19), 1.8).line("hole", ring(40, 19, 1.6))
    return s.done()


ABOVE: dict[str, Callable[[], Picture]] = {
    "inside-first": _inside_first, "not-from-edge": _not_from_edge, "stiff-order": _stiff_order,
    "sheet": _sheet, "hole-room": _hole_room, "lip": _lip, "hands": _hands, "spin": _spin,
    "back-out": _back_out, "loop": _loop, "necks": _necks, "islands": _islands,
    "kerf-room": _kerf_room, "edge-frame": _edge_frame, "small-parts": _small_parts,
    "reach": _reach, "veins": _veins, "mends": _mends, "left-out": _left_out,
    "lines-or-ink": _lines_or_ink, "size": _size, "pins": _pins,
}  # fmt: skip
"""Pictures by page."""
