"""Large letters for the stool: solid block letters made of half-block cells.

The rule kept here: what must be read at the saw stands in letters whose height
is 20 to 22 arc minutes at the eye or more (ISO 9241-3, preferred character
height, as quoted by a vendor's ergonomics page; NUREG-0700 1.3.1-4 gives the
same formula and 45 arc minutes as the upper end for groups of characters).
The letters need no special font: one dot is one column wide and half a row
high, which is nearly square because terminal cells are about 1:2.
"""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np
import numpy.typing as npt

Dots = npt.NDArray[np.bool_]

DATA = Path(__file__).parent / "data"
GAP_DOTS = 1
"""Empty columns between two letters."""
SPACE_DOTS = 3
WANTED_ARC_MIN = 20.0
LARGEST_ARC_MIN = 45.0
LARGEST_SCALE = 6

BLOCKS = " ▀▄█"
"""Index: upper dot + 2 x lower dot."""
PLAIN_BLOCKS = ' "_#'
"""The same for a terminal that shows nothing but ASCII."""


@dataclass(frozen=True)
class Face:
    """One drawing of the alphabet; two dots are one cell high."""

    file: str
    cap_dots: int
    """Height of a capital."""
    drop_dots: int
    """Dots below the line."""
    small: bool
    """Whether it has small letters; capitals stand for them otherwise."""

    @property
    def dots(self) -> int:
        """Height of a glyph's box."""
        return self.cap_dots + self.drop_dots


HIGH = Face("letters.txt", 7, 2, True)
"""5 x 7 dots, the least grid that ISO 9241-3 allows (as quoted there)."""
LOW = Face("letters_low.txt", 5, 1, False)
"""4 x 5 dots: less than the standard's grid, but the stool still reads more of it than
of plain words half as high."""


@dataclass(frozen=True, slots=True)
class Lettering:
    """A text set in large letters, ready for the screen."""

    rows: tuple[str, ...]
    """Rows of cells, all of the same length; plain words when ``scale`` is 0."""
    scale: int
    """Columns per dot; 0: it did not fit in block letters."""
    face: Face = HIGH

    @property
    def columns(self) -> int:
        """Width in cells."""
        return len(self.rows[0]) if self.rows else 0


def arc_minutes(height_mm: float, distance_mm: float) -> float:
    """Angle under which a height is seen: 2 atan(H / 2d), in arc minutes.

    >>> round(arc_minutes(4.07, 700.0), 1)
    20.0
    """
    return math.degrees(2.0 * math.atan(height_mm / (2.0 * distance_mm))) * 60.0


def height_mm(scale: int, cell_height_mm: float, face: Face = HIGH) -> float:
    """Height of a capital at a scale, mm."""
    return face.cap_dots * scale * cell_height_mm / 2.0


def scales(cell_height_mm: float, distance_mm: float) -> range:
    """The scales that may be used, small to large.

    The smallest is the first that reaches 20 arc minutes; the largest the last
    under 45, but never smaller than the smallest.
    """

    def seen(scale: int) -> float:
        return arc_minutes(height_mm(scale, cell_height_mm), distance_mm)

    all_scales = range(1, LARGEST_SCALE + 1)
    least = next((s for s in all_scales if seen(s) >= WANTED_ARC_MIN), LARGEST_SCALE)
    most = max((s for s in all_scales if seen(s) <= LARGEST_ARC_MIN), default=least)
    return range(least, max(least, most) + 1)


@lru_cache
def font(face: Face = HIGH) -> dict[str, Dots]:
    """The glyphs by character, each ``face.dots`` high.

    Raises:
        ValueError: a band of the font file is ragged (a fault of the file).
    """
    glyphs: dict[str, Dots] = {}
    for band in (DATA / face.file).read_text("utf-8").split("\n: ")[1:]:
        head, *rows = band.rstrip("\n").split("\n")
        names = ["|" if n == "bar" else n for n in head.split("|")]
        columns = [row.split("|") for row in rows]
        if any(len(c) != len(names) for c in columns):
            raise ValueError(f"ragged band {head!r} in {face.file}")
        for at, name in enumerate(names):
            ink = np.array([[dot == "#" for dot in row[at]] for row in columns])
            glyph = np.zeros((face.dots, ink.shape[1]), dtype=bool)
            glyph[: ink.shape[0]] = ink
            glyphs[name] = glyph
    glyphs[" "] = np.zeros((face.dots, SPACE_DOTS), dtype=bool)
    return glyphs


def glyph(character: str, face: Face = HIGH) -> Dots:
    """The dots of one character; its base letter, or ``?``, when it is not drawn."""
    known = font(face)
    for name in (character, character if face.small else character.upper()):
        if name in known:
            return known[name]
    if character in "—−‑":
        return known["–"]
    base = unicodedata.normalize("NFKD", character)[:1]
    return known.get(base if face.small else base.upper(), known["?"])


@lru_cache(maxsize=4096)
def text_dots(text: str, face: Face = HIGH) -> int:
    """Width of one line of text, dots.

    >>> text_dots("I"), text_dots("")
    (3, 0)
    """
    if not text:
        return 0
    return sum(int(glyph(c, face).shape[1]) + GAP_DOTS for c in text) - GAP_DOTS


def wrap(text: str, dots: int, face: Face = HIGH) -> list[str] | None:
    """Break a text at spaces into lines no wider than ``dots``; None: a word is wider.

    >>> wrap("Cut hole 7", 30)
    ['Cut', 'hole', '7']
    """
    lines: list[str] = []
    for paragraph in text.split("\n"):
        line = ""
        for word in paragraph.split():
            longer = f"{line} {word}".strip()
            if text_dots(longer, face) <= dots:
                line = longer
            elif text_dots(word, face) > dots:
                return None
            else:
                lines.append(line)
                line = word
        lines.append(line)
    return lines


def _enlarge(dots: Dots, scale: int) -> Dots:
    """Enlarge by whole numbers; even scales round the stairs of slanted strokes."""
    if scale % 2 == 0:
        return _enlarge(_doubled(dots), scale // 2)
    return np.repeat(np.repeat(dots, scale, axis=0), scale, axis=1)


def _doubled(dots: Dots) -> Dots:
    """Each dot becomes four; a corner takes its two neighbours' value where they agree.

    A well-known pixel-art rule: with neighbours up, left, right, down, the upper
    left quarter is ``left`` when left = up, left != down and up != right.
    """
    p = np.pad(dots, 1)
    mid, up, down = p[1:-1, 1:-1], p[:-2, 1:-1], p[2:, 1:-1]
    left, right = p[1:-1, :-2], p[1:-1, 2:]
    out = np.empty((dots.shape[0] * 2, dots.shape[1] * 2), dtype=bool)
    out[0::2, 0::2] = np.where((left == up) & (left != down) & (up != right), up, mid)
    out[0::2, 1::2] = np.where((up == right) & (up != left) & (right != down), right, mid)
    out[1::2, 0::2] = np.where((down == left) & (down != right) & (left != up), left, mid)
    out[1::2, 1::2] = np.where((right == down) & (right != up) & (down != left), down, mid)
    return out


def _line_dots(line: str, face: Face) -> Dots:
    gap = np.zeros((face.dots, GAP_DOTS), dtype=bool)
    parts: list[Dots] = []
    for character in line:
        parts += [glyph(character, face), gap]
    return np.hstack(parts[:-1]) if parts else np.zeros((face.dots, 0), dtype=bool)


def draw(
    lines: Sequence[str], scale: int, ascii_only: bool = False, face: Face = HIGH
) -> tuple[str, ...]:
    """Set lines of text in block letters.

    Args:
        lines: already wrapped.
        scale: columns per dot, at least 1.
        ascii_only: use no block characters.
        face: which letters.

    Returns:
        Rows of cells of equal length.
    """
    inks = [_enlarge(_line_dots(line, face), scale) for line in lines]
    width = max((ink.shape[1] for ink in inks), default=0)
    pitch = scale * face.dots
    page = np.zeros((len(inks) * pitch + 1, width), dtype=np.intp)
    for at, ink in enumerate(inks):
        page[at * pitch : at * pitch + ink.shape[0], : ink.shape[1]] = ink
    page = page[: 2 * rows_needed(lines, scale, face)]
    cells = page[0::2] + 2 * page[1::2]
    signs = np.array(list(PLAIN_BLOCKS if ascii_only else BLOCKS))
    return tuple("".join(row) for row in signs[cells])


def rows_needed(lines: Sequence[str], scale: int, face: Face = HIGH) -> int:
    """Height in cells of what :func:`draw` gives: no row for what does not hang down."""
    if not lines:
        return 0
    hangs = any(glyph(c, face)[face.cap_dots :].any() for c in lines[-1])
    dots = len(lines) * scale * face.dots - (0 if hangs else scale * face.drop_dots)
    return (dots + 1) // 2


@lru_cache(maxsize=256)  # one screen asks for the same texts again for height and for paint
def fit(
    text: str,
    columns: int,
    rows: int,
    cell_height_mm: float,
    distance_mm: float,
    ascii_only: bool = False,
    least: bool = False,
) -> Lettering:
    """Set a text as large as is wanted and as the box allows.

    Args:
        text: words; line breaks are kept.
        columns: room, cells.
        rows: room, cells.
        cell_height_mm: one cell, measured.
        distance_mm: eye to screen.
        ascii_only: use no block characters.
        least: begin with the smallest letters that reach 20 arc minutes, for what
            stands below something larger; otherwise with the largest under 45.

    Returns:
        The first size that fits, going down; the low letters when no high ones fit, plain
        words when those do not fit either.
    """
    for face, scale in _sizes(cell_height_mm, distance_mm, least):
        lines = wrap(text, columns // scale, face)
        if lines is not None and rows_needed(lines, scale, face) <= rows:
            return Lettering(draw(lines, scale, ascii_only, face), scale, face)
    return Lettering(_plain_rows(text, columns, rows), 0)


def _sizes(cell_height_mm: float, distance_mm: float, least: bool) -> list[tuple[Face, int]]:
    """What may be tried, in order."""
    if not least:
        largest = scales(cell_height_mm, distance_mm)[-1]
        return [(HIGH, scale) for scale in range(largest, 0, -1)] + [(LOW, 1)]
    every = sorted(
        ((face, scale) for face in (HIGH, LOW) for scale in range(1, LARGEST_SCALE + 1)),
        key=lambda size: height_mm(size[1], 1.0, size[0]),
    )
    enough = [
        i for i, (face, scale) in enumerate(every)
        if arc_minutes(height_mm(scale, cell_height_mm, face), distance_mm) >= WANTED_ARC_MIN
    ]  # fmt: skip
    return every[: (enough[0] if enough else len(every) - 1) + 1][::-1]


def _plain_rows(text: str, columns: int, rows: int) -> tuple[str, ...]:
    lines: list[str] = []
    for paragraph in text.split("\n"):
        line = ""
        for word in paragraph.split():
            if line and len(line) + 1 + len(word) > columns:
                lines.append(line)
                line = word
            else:
                line = f"{line} {word}".strip()
        lines.append(line)
    kept = [line[:columns] for line in lines[:rows]]
    return tuple(line.ljust(max(map(len, kept), default=0)) for line in kept)
