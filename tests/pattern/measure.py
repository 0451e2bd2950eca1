"""Compares what the reader sees with what an independent renderer paints.

The renderer is resvg (through resvg_py). Edges are drawn without smoothing, fonts are
kept out, and a pixel is ink when its darkest channel is below the reader's own paper
threshold; everything else is counted here.

Counts of parts and holes hang on places that no pixel shows: two shapes that meet in a
point, a gap or a web a tenth of a pixel wide, a speck at the threshold. So there are three
questions, from the plainest on.

**Counts equal**: the reader has as many pieces and openings as the picture has components
and holes above the speck threshold.

**Counted alike**: or both sides, counted in one way, are as many: the reader's region is
painted by the same renderer on the same pixels, and counted above a least area which lies
clear of the areas in the renderer's own picture (in their widest gap between the speck
threshold and twice that), so that no speck at the threshold decides. Where they are not,
they are asked again on pixels two and four times finer, with the reader's chords as much
finer: what only coarse pixels part, or join, is no difference of the drawings.

**The same as far as pixels can tell**: every pixel whose centre lies farther than half a
pixel from our outlines has the renderer's tone. Then outlines moved by less than half a
pixel (an opening where a web breaks, a closing where a gap fills) give the renderer's
picture, pixel by pixel, and so its counts: what differs is smaller than it can resolve.
(Where outlines lie closer than a pixel, as in dense stars, every pixel is near one and the
rule tells nothing; such places hold no pieces or openings that a blade could follow.) The
outlines are those before specks and slivers are mended; the mends are judged by what their
findings tell, apart.
"""

from __future__ import annotations

import io
import math
import re
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import resvg_py
import shapely
from numpy.typing import NDArray
from PIL import Image
from scipy import ndimage

from companion.pattern.limits import limits
from companion.pattern.model import Pattern
from companion.pattern.options import ReadOptions
from companion.pattern.reader import read_pattern_text

MM_PER_PX = 25.4 / 96.0
WIDTH_MM = 150.0
PX_PER_MM = 12.0
LARGEST_SIDE = 3000
FINER = (2, 4)
"""Times finer pixels on which counts are asked again."""
OFF_TIES = 0.98713
"""No simple fraction, so that edges at round coordinates do not fall on pixel centres,
where the last digit decides."""
MOST_PX = 0.5
"""Pixels whose centres lie nearer to our outlines than this may have another tone."""
MENDS = {"specks-dropped", "sliver"}
"""Findings of the mends that take whole parts or holes away."""
Mask = NDArray[np.bool_]
Areas = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Compared:
    """Both sides of one drawing."""

    area_theirs_mm2: float
    """Ink pixels of the renderer, as area."""
    area_ours_mm2: float
    """Area of the pieces, counted on the same pixels."""
    parts_theirs: int
    """Components of the renderer's ink above the speck threshold."""
    parts_ours: int
    """Pieces."""
    holes_theirs: int
    """Enclosed components of its paper above the speck threshold."""
    holes_ours: int
    """Openings."""
    difference_share: float
    """Area of the symmetric difference over the renderer's ink."""
    pattern: Pattern
    """What the reader gave."""
    raw: Pattern
    """The same without mending specks and slivers."""
    beyond_px: int
    """Pixels of another tone farther than half a pixel from the outlines of ``raw``."""
    farthest_px: float
    """Largest distance of a pixel of another tone from those outlines."""
    on_pixels: tuple[tuple[int, int], tuple[int, int]]
    """Parts and holes of ``raw`` painted by the same renderer on the same pixels, and of the
    renderer's ink, above one least area that no part or hole of the ink is near."""
    px_per_mm: tuple[float, float]
    """Pixels to the mm, across and down."""
    ink: Mask
    """The renderer's ink."""
    again: Mask
    """That of ``raw`` on the same pixels."""

    def light(self) -> Compared:
        """Without the pictures, to be kept by the hundred."""
        nothing = np.zeros((0, 0), dtype=np.bool_)
        return replace(self, ink=nothing, again=nothing)

    @property
    def area_off(self) -> float:
        """Relative difference of the ink area."""
        return abs(self.area_ours_mm2 - self.area_theirs_mm2) / max(self.area_theirs_mm2, 1e-9)

    @property
    def ours(self) -> tuple[int, int]:
        """Pieces and openings."""
        return (self.parts_ours, self.holes_ours)

    @property
    def theirs(self) -> tuple[int, int]:
        """The renderer's components and enclosed holes."""
        return (self.parts_theirs, self.holes_theirs)

    @property
    def counts_equal(self) -> bool:
        """Components and holes agree."""
        return self.ours == self.theirs

    @property
    def counted_alike(self) -> bool:
        """Counts agree, or do when both sides are counted in the same way, and mends are true."""
        if self.counts_equal:
            return True
        return self.on_pixels[0] == self.on_pixels[1] and mends_are_true(self.pattern, self.raw)

    @property
    def same_to_pixels(self) -> bool:
        """The module's rule: no place differs that pixels can tell, and mends are true."""
        return self.beyond_px == 0 and mends_are_true(self.pattern, self.raw)


def drawings() -> list[Path]:
    """All vendored drawings but those of the W3C suite."""
    data = Path(__file__).parents[1] / "data"
    found = [p for part in ("outside", "odd") for p in (data / part).rglob("*.svg")]
    return sorted(p for p in found if p.parent.name != "w3c")


def paint(svg: str, zoom: float | None = None) -> NDArray[np.uint8]:
    """Render to pixels, (rows, columns, 3)."""
    png = resvg_py.svg_to_bytes(
        svg_string=svg,
        background="#ffffff",
        skip_system_fonts=True,
        zoom=zoom,
        dpi=96.0,
        shape_rendering="crisp_edges",
        languages=["en"],
    )
    return np.asarray(Image.open(io.BytesIO(bytes(png))).convert("RGB"))


def ink_of(pixels: NDArray[np.uint8]) -> Mask:
    """Pixels that the paint model calls ink."""
    # channel by channel: a minimum along so short an axis takes ten times as long
    darkest = np.minimum(np.minimum(pixels[:, :, 0], pixels[:, :, 1]), pixels[:, :, 2])
    mask: Mask = darkest < limits().paper_channel * 255.0
    return mask


def areas_of(ink: Mask) -> tuple[Areas, Areas]:
    """Pixels of each component of ink (edge to edge) and of enclosed paper (corners too)."""
    labels, _ = ndimage.label(ink)
    around = np.pad(~ink, 1, constant_values=True)
    paper, _ = ndimage.label(around, structure=np.ones((3, 3)))
    holes = np.bincount(paper.ravel())
    holes[[0, paper[0, 0]]] = 0
    return np.bincount(labels.ravel())[1:], holes[holes > 0]


def above(areas: tuple[Areas, Areas], least_px: tuple[float, float]) -> tuple[int, int]:
    """How many parts and holes are at least so large."""
    parts, holes = (int((a >= least).sum()) for a, least in zip(areas, least_px, strict=True))
    return parts, holes


def clear_of(areas: Areas, speck_px: float) -> float:
    """A least area near none of these: in their widest gap between a speck and twice that."""
    between = np.sort(areas[(areas > speck_px) & (areas < 2.0 * speck_px)])
    steps = np.concatenate([[speck_px], between, [2.0 * speck_px]])
    at = int((steps[1:] / steps[:-1]).argmax())
    return math.sqrt(steps[at] * steps[at + 1])


def drawn_again(pattern: Pattern, px_per_mm: tuple[float, float], shape: tuple[int, ...]) -> Mask:
    """The reader's region on the same pixels, as one evenodd path."""
    parts = []
    for piece in pattern.pieces:
        for ring in (piece.shape.exterior, *piece.shape.interiors):
            points = shapely.get_coordinates(ring) * np.array(px_per_mm)
            parts.append("M" + "L".join(f"{x:.4f} {y:.4f}" for x, y in points) + "Z")
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{shape[1]}" height="{shape[0]}">'
        f'<path fill-rule="evenodd" d="{"".join(parts)}"/></svg>'
    )
    return ink_of(paint(svg))


def farther_than(
    differs: Mask, pattern: Pattern, px_per_mm: tuple[float, float], most_px: float
) -> tuple[int, float]:
    """Pixels farther from the outlines than so many pixels, and the largest distance."""
    rows, columns = np.nonzero(differs)
    if not len(rows):
        return 0, 0.0
    scale = np.array(px_per_mm)
    sides = []
    for ring in shapely.get_rings([p.shape for p in pattern.pieces]):
        points = shapely.get_coordinates(ring) * scale
        sides.append(np.stack([points[:-1], points[1:]], axis=1))
    tree = shapely.STRtree(np.asarray(shapely.linestrings(np.concatenate(sides))))
    centres = shapely.points(np.stack([columns + 0.5, rows + 0.5], axis=1))
    _, away = tree.query_nearest(centres, return_distance=True, all_matches=False)
    return int((away > most_px).sum()), float(away.max())


def mends_are_true(pattern: Pattern, raw: Pattern) -> bool:
    """Mending changed nothing but specks and slivers, as its findings say."""
    if not MENDS & {f.code for f in pattern.findings}:
        return len(pattern.pieces) == len(raw.pieces) and len(pattern.openings) == len(raw.openings)
    mended, plain = (shapely.MultiPolygon([p.shape for p in q.pieces]) for q in (pattern, raw))
    table = limits()
    for part in shapely.get_parts(shapely.symmetric_difference(mended, plain)).tolist():
        if part.geom_type != "Polygon" or part.is_empty:
            continue
        outline = shapely.Polygon(part.exterior)
        width = 2.0 * outline.area / outline.length
        if outline.area >= table.speck_mm2 and width >= table.sliver_mm:
            return False
    return True


def as_text(data: bytes) -> str:
    """The drawing as the renderer takes it.

    A drawing's own wish for smooth edges would go before ``shape_rendering``, and each
    smoothed edge pixel counts as ink; so it is not heard. It knows ``currentColor`` in
    this spelling alone, though CSS has keywords in either case.
    """
    text = data.decode("utf-8", "replace").lstrip("\ufeff")
    text = re.sub(r"\bcurrentcolor\b", "currentColor", text)
    return re.sub(r"\bshape-rendering\b", "unheard", text)


def finest_alike(data: bytes, name: str, coarse: Compared) -> float:
    """Pixels to the mm on which counts are alike: the coarsest of three, 0 when on none."""
    if coarse.counted_alike:
        return PX_PER_MM
    for times in FINER:
        finer = compare(data, name, side_px=LARGEST_SIDE * times, px_per_mm=PX_PER_MM * times)
        if finer.counted_alike:
            return PX_PER_MM * times
    return 0.0


def compare(
    data: bytes,
    name: str,
    width_mm: float = WIDTH_MM,
    side_px: int = LARGEST_SIDE,
    px_per_mm: float = PX_PER_MM,
    planted: bytes | None = None,
) -> Compared:
    """Read and render the same drawing at the same scale.

    Args:
        data: the file.
        name: for messages.
        width_mm: of the ink, for reading.
        side_px: largest side of the rendered page.
        px_per_mm: pixels to the mm, where side_px allows; on finer pixels the reader's chords
            are as much finer, or they would be what is seen.
        planted: what the reader is given instead, of the same width: a wrong reading.
    """
    text = as_text(data)
    # A finely flattened reading at the file's own size, so that the scale is exact.
    fine = replace(
        limits(), flatness_mm=limits().grid_mm, speck_mm2=0.0, sliver_mm=0.0, reading_s=120.0
    )
    table = replace(limits(), flatness_mm=limits().flatness_mm * PX_PER_MM / px_per_mm)
    own = read_pattern_text(data, ReadOptions(lines="ink"), name, fine).bounds_mm
    read, options = planted or data, ReadOptions(lines="ink", width_mm=width_mm)
    pattern = read_pattern_text(read, options, name, table)
    raw = pattern
    if MENDS & {f.code for f in pattern.findings}:
        unmended = replace(table, speck_mm2=0.0, sliver_mm=0.0)
        raw = read_pattern_text(read, options, name, unmended)
    box = raw.bounds_mm
    scale = (box[2] - box[0]) / (own[2] - own[0])
    small = paint(text)
    zoom = OFF_TIES * min(px_per_mm * scale * MM_PER_PX, side_px / max(small.shape[:2]))
    ink = ink_of(paint(text, zoom))
    # resvg fits the whole-pixel canvas, so the true scale differs a little by axis.
    across = ink.shape[1] / small.shape[1] / (scale * MM_PER_PX)
    down = ink.shape[0] / small.shape[0] / (scale * MM_PER_PX)
    px_per_mm2 = across * down
    speck = limits().speck_mm2 * px_per_mm2
    theirs = areas_of(ink)
    parts, holes = above(theirs, (speck, speck))
    ours = drawn_again(pattern, (across, down), ink.shape)
    off = int((ours != ink).sum())
    again = ours if raw is pattern else drawn_again(raw, (across, down), ink.shape)
    beyond, farthest = farther_than(again != ink, raw, (across, down), MOST_PX)
    least = (clear_of(theirs[0], speck), clear_of(theirs[1], speck))
    return Compared(
        float(ink.sum()) / px_per_mm2,
        float(ours.sum()) / px_per_mm2,
        parts,
        len(pattern.pieces),
        holes,
        len(pattern.openings),
        off / max(int(ink.sum()), 1),
        pattern,
        raw,
        beyond,
        farthest,
        (above(areas_of(again), least), above(theirs, least)),
        (across, down),
        ink,
        again,
    )
