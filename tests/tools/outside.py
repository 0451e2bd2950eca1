"""Lists the drawings that the reader and the renderer count differently, each with its reason.

``python -m tests.tools.outside`` goes through the vendored drawings and writes
``tests/data/outside/explained.toml``; the slow run of ``tests/pattern/test_outside.py``
proves that list. ``python -m tests.tools.outside FILE...`` goes through drawings named
one a line in files (a path after ``#`` is a comment) and writes ``wide.toml`` beside it.
``python -m tests.tools.outside words FOLDER`` first sets words in outline from every
font under FOLDER into FOLDER/words.

The reason is measured, not written: which of the places that no pixel shows the
drawing has. Only where pixels do tell a difference, ``causes.toml`` holds what
was found when somebody looked.
"""

from __future__ import annotations

import sys
import tomllib
import zlib
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path

import numpy as np
import shapely
from fontTools.pens.svgPathPen import SVGPathPen
from fontTools.pens.transformPen import TransformPen
from fontTools.ttLib import TTFont
from shapely.geometry.base import BaseGeometry

from companion.errors import PatternError
from companion.pattern.limits import limits
from companion.pattern.model import Pattern
from tests.pattern.measure import PX_PER_MM, Compared, compare, drawings, finest_alike

OUTSIDE = Path(__file__).parents[1] / "data" / "outside"
NOT_COMPARED = {
    *("gradient-as-ink", "gradient-left-out", "pattern-as-ink", "white-as-ink"),
    *("mask-not-read", "filter-not-read", "image-not-read", "text-not-read"),
    *("foreign-not-read", "marker-not-read", "blend-not-read", "external-not-opened"),
}
"""Findings that say, by design, that the drawing was not read as it is painted."""
WORDS = ("Harbour", "Quayside", "Willow", "Bakery")
JUST_UNDER = 0.49
"""Pixels by which outlines are moved to look for what pixels cannot show."""


@dataclass(frozen=True, slots=True)
class Row:
    """One drawing."""

    name: str
    """Set and file."""
    compared: Compared | None
    """None when it was refused or is not compared."""
    apart: str
    """Why it was not compared; the error's title when it was refused."""
    why: str
    """Measured reason for different counts; empty when they are equal."""
    alike: float = PX_PER_MM
    """Pixels to the mm on which counts are alike; 0: on none that was tried."""

    @property
    def settled(self) -> bool:
        """Equal counts, or the same as far as pixels can tell."""
        return self.compared is not None and (
            self.compared.counts_equal or self.compared.same_to_pixels
        )


def counts_of(region: BaseGeometry) -> tuple[int, int]:
    """Parts and holes above the speck threshold."""
    speck = limits().speck_mm2
    rings = [r for p in shapely.get_parts(region).tolist() for r in p.interiors]
    parts = [shapely.Polygon(p.exterior) for p in shapely.get_parts(region).tolist()]
    return (
        sum(p.area >= speck for p in parts),
        sum(shapely.Polygon(r).area >= speck for r in rings),
    )


def whole(pattern: Pattern) -> BaseGeometry:
    """All pieces as one region."""
    region: BaseGeometry = shapely.union_all([p.shape for p in pattern.pieces])
    return region


def reason(compared: Compared) -> str:
    """What the drawing has that pixels of this size do not show."""
    raw, by = whole(compared.raw), JUST_UNDER / max(compared.px_per_mm)
    plain = counts_of(raw)
    found: list[str] = []
    if counts_of(raw.buffer(-by, quad_segs=2).buffer(by, quad_segs=2)) != plain:
        found.append("webs or contacts under a pixel wide")
    if counts_of(raw.buffer(by, quad_segs=2).buffer(-by, quad_segs=2)) != plain:
        found.append("gaps under a pixel wide")
    rings = shapely.polygons(shapely.get_rings(shapely.get_parts(raw)))
    unsure = np.abs(shapely.area(rings) - limits().speck_mm2) <= by * shapely.length(rings)
    if unsure.any():
        found.append("specks within half a pixel of the threshold")
    if any(f.code == "sliver" for f in compared.pattern.findings):
        found.append("slivers mended and told")
    if compared.counted_alike:
        found.append("painted on the same pixels our outlines are counted as theirs")
    if compared.beyond_px:
        found.append(f"{compared.beyond_px} pixels beyond half a pixel")
    return "; ".join(found)


def look(path: Path, name: str) -> Row:
    """Compare one drawing."""
    data = path.read_bytes()
    if data[:2] == b"\x1f\x8b":
        data = zlib.decompress(data, 31)
    try:
        compared = compare(data, path.name)
    except PatternError as error:
        return Row(name, None, error.title, "")
    apart = NOT_COMPARED & {f.code for f in compared.pattern.findings}
    if apart:
        return Row(name, None, ", ".join(sorted(apart)), "")
    if compared.counts_equal:
        return Row(name, compared.light(), "", "")
    alike = finest_alike(data, path.name, compared)
    return Row(name, compared.light(), "", reason(compared), alike)


def _look(job: tuple[str, str]) -> Row:
    try:
        return look(Path(job[0]), job[1])
    except Exception as error:  # what the renderer cannot paint is no matter of the reader
        return Row(job[1], None, f"{type(error).__name__}: {error}"[:80], "")


def listed(rows: list[Row], head: str) -> str:
    """The TOML of all drawings whose counts differ."""
    compared = [r.compared for r in rows if r.compared is not None]
    causes = tomllib.loads((OUTSIDE / "causes.toml").read_text("utf-8"))
    lines = [f"# {line}" for line in head.splitlines()]
    lines += [
        "",
        "[all]",
        f"drawings = {len(rows)}",
        f"compared = {len(compared)}",
        f"area_within_1_percent = {sum(c.area_off <= 0.01 for c in compared)}",
        f"counts_equal = {sum(c.counts_equal for c in compared)}",
        f"counted_alike = {sum(r.alike > 0.0 for r in rows if r.compared)}",
        f"equal_to_pixels = {sum(r.settled for r in rows)}",
        "",
    ]
    for row in sorted(rows, key=lambda r: r.name):
        c = row.compared
        if c is not None and not c.counts_equal:
            lines += [
                f'[different."{row.name}"]',
                f"ours = [{c.parts_ours}, {c.holes_ours}]",
                f"theirs = [{c.parts_theirs}, {c.holes_theirs}]",
                f"farthest_px = {c.farthest_px:.2f}",
                f"alike = {row.alike:.0f}",
                f"settled = {str(row.settled).lower()}",
                *([f"area_off = {c.area_off:.4f}"] if c.area_off > 0.01 else []),
                f'why = "{row.why}"',
            ]
            if row.name in causes:
                lines.append(f'cause = "{causes[row.name]}"')
            lines.append("")
    return "\n".join(lines)


def words(folder: Path) -> None:
    """Words in outline from each font under a folder, into folder/words."""
    into = folder / "words"
    into.mkdir(exist_ok=True)
    for file in sorted((*folder.rglob("*.ttf"), *folder.rglob("*.otf"))):
        if not file.is_file():
            continue
        font = TTFont(file)
        glyphs, names, wide = font.getGlyphSet(), font.getBestCmap(), font["hmtx"]
        for word in WORDS:
            if any(ord(letter) not in names for letter in word):
                continue
            pen, x = SVGPathPen(glyphs, ntos=lambda v: f"{v:g}"), 0
            for letter in word:
                name = names[ord(letter)]
                glyphs[name].draw(TransformPen(pen, (1, 0, 0, -1, x, 0)))
                x += wide[name][0]
            high = font["head"].unitsPerEm
            svg = (
                f'<svg xmlns="http://www.w3.org/2000/svg" width="{x}" height="{3 * high}" '
                f'viewBox="{-high} {-2 * high} {x + 2 * high} {3 * high}">'
                f'<path d="{pen.getCommands()}"/></svg>'
            )
            (into / f"{file.stem}-{word}.svg").write_text(svg, encoding="utf-8")


HEAD = """Drawings that the reader and the renderer count differently: pieces and openings.
Written by python -m tests.tools.outside; 150 mm wide, 12 pixels to the mm.
alike: so many pixels to the mm on which both, counted in one way, are as many (0: neither
on 12 nor 24 nor 48); settled: the same as far as pixels can tell. What both mean stands
in tests/pattern/measure.py."""
WIDE_HEAD = """
Not vendored: a random share of icon sets (npm), of Debian's openclipart-svg, icon themes,
flags, games and tuxpaint, and words set in Debian's fonts."""


def main() -> None:
    """Read the command's words."""
    if sys.argv[1:2] == ["words"]:
        words(Path(sys.argv[2]))
        return
    if len(sys.argv) > 1:
        paths = [line for f in sys.argv[1:] for line in Path(f).read_text("utf-8").splitlines()]
        jobs = [(p.split("#")[0].strip(), "") for p in paths if p.split("#")[0].strip()]
        jobs = [(p, named(Path(p))) for p, _ in jobs]
        out, head = OUTSIDE / "wide.toml", HEAD + WIDE_HEAD
    else:
        jobs = [(str(p), f"{p.parent.name}/{p.stem}") for p in drawings()]
        out, head = OUTSIDE / "explained.toml", HEAD
    rows: list[Row] = []
    with get_context("spawn").Pool(1, maxtasksperchild=20) as pool:
        for row in pool.imap(_look, jobs):
            rows.append(row)
            if row.compared is None or not row.compared.counts_equal:
                print(row.name, row.apart or row.why, flush=True)
    out.write_text(listed(rows, head), encoding="utf-8")
    print(out.read_text("utf-8").split("[different")[0])


def named(path: Path) -> str:
    """The package or collection that a drawing is from, and its file."""
    known = [p for p in path.parts if p.startswith(("deb-", "npm-"))] or [path.parts[-2]]
    return f"{known[0]}/{path.stem}"


if __name__ == "__main__":
    main()
