"""Reads path data by the grammar and the error rule of SVG 2 chapter 9.

All commands up to, not including, the one in error are drawn; inside a command
with several segments the complete ones are kept (SVG 2 chapter 9). The error's place
is handed back so that a finding can tell it. The scanner uses possessive regular
expressions only, so that no input makes it slow.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from companion.pattern.arcs import Row, arc_rows
from companion.pattern.matrix import NUMBER
from companion.pattern.outline import Outline, outline_of

WS = r"[\t\n\f\r ]*+"
LETTERS = "MmZzLlHhVvCcSsQqTtAa"
ARGUMENTS = {"m": 2, "z": 0, "l": 2, "h": 1, "v": 1, "c": 6, "s": 4, "q": 4, "t": 2, "a": 7}

_COMMAND = re.compile(rf"([{LETTERS}])([^{LETTERS}]*+)")
_NUMBER = re.compile(NUMBER)
_RUN = re.compile(rf"{WS}(?:(?>{NUMBER})(?:{WS},?+{WS}(?>{NUMBER}))*+)?+{WS}")
_SEP = rf"{WS},?+{WS}"
_ARC = re.compile(
    rf"(?:{_SEP})({NUMBER}){_SEP}({NUMBER}){_SEP}({NUMBER}){_SEP}([01]){_SEP}([01])"
    rf"{_SEP}({NUMBER}){_SEP}({NUMBER})"
)
_LEADING_COMMA = re.compile(rf"{WS},")
_BLANK = re.compile(WS)


@dataclass(frozen=True, slots=True)
class PathFault:
    """Where path data breaks off."""

    position: int
    """Characters from the start of the d attribute to the offending place."""
    found: str
    """A few characters from there."""


class _Pen:
    """The current point and what has been drawn."""

    def __init__(self) -> None:
        self.rows: list[Row] = []
        self.straight: list[bool] = []
        self.starts: list[int] = []
        self.closed: list[bool] = []
        self.x = self.y = self.start_x = self.start_y = 0.0
        self.handle_x = self.handle_y = 0.0
        self.last = ""
        self.open = False

    def begin(self, x: float, y: float) -> None:
        self.x = self.start_x = x
        self.y = self.start_y = y
        self.open = False

    def ensure_subpath(self) -> None:
        if not self.open:
            self.starts.append(len(self.rows))
            self.closed.append(False)
            self.open = True

    def line(self, x: float, y: float) -> None:
        self.rows.append((self.x, self.y, self.x, self.y, x, y, x, y))
        self.straight.append(True)
        self.x, self.y = x, y

    def curve(self, x1: float, y1: float, x2: float, y2: float, x: float, y: float) -> None:
        self.rows.append((self.x, self.y, x1, y1, x2, y2, x, y))
        self.straight.append(False)
        self.x, self.y = x, y

    def quadratic(self, qx: float, qy: float, x: float, y: float) -> None:
        px, py = self.x, self.y
        self.curve(
            px + (qx - px) * (2.0 / 3.0),
            py + (qy - py) * (2.0 / 3.0),
            x + (qx - x) * (2.0 / 3.0),
            y + (qy - y) * (2.0 / 3.0),
            x,
            y,
        )

    def close(self) -> None:
        if not self.open:
            self.ensure_subpath()
        if self.x != self.start_x or self.y != self.start_y or self.starts[-1] == len(self.rows):
            self.line(self.start_x, self.start_y)
        self.closed[-1] = True
        self.open = False
        self.x, self.y = self.start_x, self.start_y

    def draw(self, letter: str, v: list[float]) -> None:
        """One command's complete segments; ``v`` holds a multiple of its arguments."""
        kind = letter.lower()
        relative = letter == kind
        if kind == "m":
            x, y = (self.x, self.y) if relative else (0.0, 0.0)
            self.begin(x + v[0], y + v[1])
            v, kind = v[2:], "l"
            if not v:
                self.last = "m"
                return
        self.ensure_subpath()
        if kind == "l":
            self._lines(v, relative)
        elif kind == "h":
            for value in v:
                self.line(value + self.x if relative else value, self.y)
        elif kind == "v":
            for value in v:
                self.line(self.x, value + self.y if relative else value)
        elif kind == "c":
            self._cubics(v, relative)
        elif kind == "s":
            self._smooth_cubics(v, relative)
        elif kind == "q":
            self._quadratics(v, relative)
        else:
            self._smooth_quadratics(v, relative)
        self.last = kind

    def _lines(self, v: list[float], relative: bool) -> None:
        if relative:
            for dx, dy in zip(v[::2], v[1::2], strict=True):
                self.line(self.x + dx, self.y + dy)
        else:
            for x, y in zip(v[::2], v[1::2], strict=True):
                self.line(x, y)

    def _cubics(self, v: list[float], relative: bool) -> None:
        rows = self.rows
        px, py = self.x, self.y
        args = iter(v)
        for x1, y1, x2, y2, x, y in zip(args, args, args, args, args, args, strict=True):
            if relative:
                row = (px, py, px + x1, py + y1, px + x2, py + y2, px + x, py + y)
            else:
                row = (px, py, x1, y1, x2, y2, x, y)
            rows.append(row)
            self.straight.append(False)
            px, py = row[6], row[7]
        self.x, self.y = px, py
        self.handle_x, self.handle_y = rows[-1][4], rows[-1][5]

    def _smooth_cubics(self, v: list[float], relative: bool) -> None:
        known = self.last in ("c", "s")
        args = iter(v)
        for x2, y2, x, y in zip(args, args, args, args, strict=True):
            px, py = self.x, self.y
            ox, oy = (px, py) if relative else (0.0, 0.0)
            x1, y1 = (2 * px - self.handle_x, 2 * py - self.handle_y) if known else (px, py)
            self.handle_x, self.handle_y = ox + x2, oy + y2
            self.curve(x1, y1, ox + x2, oy + y2, ox + x, oy + y)
            known = True

    def _quadratics(self, v: list[float], relative: bool) -> None:
        args = iter(v)
        for qx, qy, x, y in zip(args, args, args, args, strict=True):
            ox, oy = (self.x, self.y) if relative else (0.0, 0.0)
            self.handle_x, self.handle_y = ox + qx, oy + qy
            self.quadratic(ox + qx, oy + qy, ox + x, oy + y)

    def _smooth_quadratics(self, v: list[float], relative: bool) -> None:
        known = self.last in ("q", "t")
        for x, y in zip(v[::2], v[1::2], strict=True):
            px, py = self.x, self.y
            ox, oy = (px, py) if relative else (0.0, 0.0)
            qx, qy = (2 * px - self.handle_x, 2 * py - self.handle_y) if known else (px, py)
            self.handle_x, self.handle_y = qx, qy
            self.quadratic(qx, qy, ox + x, oy + y)
            known = True

    def arc(self, v: tuple[float, float, float, bool, bool, float, float], relative: bool) -> None:
        self.ensure_subpath()
        ox, oy = (self.x, self.y) if relative else (0.0, 0.0)
        x, y = ox + v[5], oy + v[6]
        rows, straight = arc_rows(self.x, self.y, v[0], v[1], v[2], v[3], v[4], x, y)
        self.rows += rows
        self.straight += [straight] * len(rows)
        self.x, self.y = x, y
        self.last = "a"


def parse_path(d: str) -> tuple[Outline, PathFault | None]:
    """Read a d attribute.

    Args:
        d: path data; empty or ``none`` is valid and draws nothing.

    Returns:
        What is drawn, and where the data breaks off (None: nowhere).
    """
    pen = _Pen()
    fault = _scan(d, pen) if d.strip() != "none" else None
    return outline_of(pen.rows, pen.straight, pen.starts, pen.closed), fault


def _scan(d: str, pen: _Pen) -> PathFault | None:
    blank = _BLANK.match(d)
    at = blank.end() if blank else 0
    if at < len(d) and d[at] not in "Mm":
        return _fault(d, at)
    while at < len(d):
        command = _COMMAND.match(d, at)
        if command is None:
            return _fault(d, at)
        letter, arguments = command[1], command[2]
        if letter in "Zz":
            pen.close()
            pen.last = "z"
            broken = _BLANK.match(arguments).end()  # type: ignore[union-attr]
        elif letter in "Aa":
            broken = _arcs(arguments, letter == "a", pen)
        else:
            broken = _numbers(letter, arguments, pen)
        if broken != len(arguments):
            return _fault(d, command.start(2) + min(broken, len(arguments)))
        at = command.end()
    return None


def _fault(d: str, position: int) -> PathFault:
    return PathFault(position, d[position : position + 12])


def _numbers(letter: str, text: str, pen: _Pen) -> int:
    """Draw a command with plain numbers; where it breaks, or the text's length."""
    run = _RUN.match(text)
    good = run.end() if run else 0
    values = list(map(float, _NUMBER.findall(text[:good])))
    size = ARGUMENTS[letter.lower()]
    whole = len(values) - len(values) % size
    if whole:
        pen.draw(letter, values[:whole])
    if good == len(text) and whole == len(values) and values:
        return good
    return good if good < len(text) else len(text) + 1


def _arcs(text: str, relative: bool, pen: _Pen) -> int:
    """Draw arc segments; flags are single characters (SVG 2 chapter 9 grammar, ``flag``)."""
    at = 0
    drawn = False
    if _LEADING_COMMA.match(text):
        return 0 if text else 1
    while match := _ARC.match(text, at):
        rx, ry, turn = float(match[1]), float(match[2]), float(match[3])
        values = (rx, ry, turn, match[4] == "1", match[5] == "1", float(match[6]), float(match[7]))
        pen.arc(values, relative)
        at = match.end()
        drawn = True
    blank = _BLANK.match(text, at)
    end = blank.end() if blank else at
    if end == len(text):
        return end if drawn else end + 1
    return end
