"""Compares what the reader sees with what an independent renderer paints.

The renderer is resvg (through resvg_py). Edges are drawn without smoothing, fonts are
kept out, and a pixel is ink when its darkest channel is below the reader's own paper
threshold; everything else is counted here.
"""

from __future__ import annotations

import io
import re
from dataclasses import dataclass, replace

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
OFF_TIES = 0.98713
"""No simple fraction, so that edges at round coordinates do not fall on pixel centres,
where the last digit decides."""
Mask = NDArray[np.bool_]


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

    @property
    def area_off(self) -> float:
        """Relative difference of the ink area."""
        return abs(self.area_ours_mm2 - self.area_theirs_mm2) / max(self.area_theirs_mm2, 1e-9)

    @property
    def counts_equal(self) -> bool:
        """Components and holes agree."""
        return (self.parts_ours, self.holes_ours) == (self.parts_theirs, self.holes_theirs)


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
    mask: Mask = pixels.min(axis=2) < limits().paper_channel * 255.0
    return mask


def count_parts(ink: Mask, speck_px: float) -> tuple[int, int]:
    """Components of ink (edge to edge) and of enclosed paper (corners too), specks left out."""
    labels, n = ndimage.label(ink)
    sizes = np.bincount(labels.ravel(), minlength=n + 1)[1:]
    around = np.pad(~ink, 1, constant_values=True)
    paper, m = ndimage.label(around, structure=np.ones((3, 3)))
    outside = paper[0, 0]
    paper_sizes = np.bincount(paper.ravel(), minlength=m + 1)
    holes = [s for k, s in enumerate(paper_sizes) if k not in (0, outside) and s >= speck_px]
    return int((sizes >= speck_px).sum()), len(holes)


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


def as_text(data: bytes) -> str:
    """The drawing as the renderer takes it.

    A drawing's own wish for smooth edges would go before ``shape_rendering``, and each
    smoothed edge pixel counts as ink; so it is not heard.
    """
    text = data.decode("utf-8", "replace").lstrip("\ufeff")
    return re.sub(r"\bshape-rendering\b", "unheard", text)


def compare(
    data: bytes,
    name: str,
    width_mm: float = WIDTH_MM,
    side_px: int = LARGEST_SIDE,
    px_per_mm: float = PX_PER_MM,
) -> Compared:
    """Read and render the same drawing at the same scale.

    Args:
        data: the file.
        name: for messages.
        width_mm: of the ink, for reading.
        side_px: largest side of the rendered page.
        px_per_mm: pixels to the mm, where side_px allows.
    """
    text = as_text(data)
    # A finely flattened reading at the file's own size, so that the scale is exact.
    fine = replace(limits(), flatness_mm=limits().grid_mm, speck_mm2=0.0, sliver_mm=0.0)
    own = read_pattern_text(data, ReadOptions(lines="ink"), name, fine).bounds_mm
    pattern = read_pattern_text(data, ReadOptions(lines="ink", width_mm=width_mm), name)
    box = pattern.bounds_mm
    scale = (box[2] - box[0]) / (own[2] - own[0])
    small = paint(text)
    zoom = OFF_TIES * min(px_per_mm * scale * MM_PER_PX, side_px / max(small.shape[:2]))
    ink = ink_of(paint(text, zoom))
    # resvg fits the whole-pixel canvas, so the true scale differs a little by axis.
    across = ink.shape[1] / small.shape[1] / (scale * MM_PER_PX)
    down = ink.shape[0] / small.shape[0] / (scale * MM_PER_PX)
    px_per_mm2 = across * down
    parts, holes = count_parts(ink, limits().speck_mm2 * px_per_mm2)
    ours = drawn_again(pattern, (across, down), ink.shape)
    off = int((ours != ink).sum())
    return Compared(
        float(ink.sum()) / px_per_mm2,
        float(ours.sum()) / px_per_mm2,
        parts,
        len(pattern.pieces),
        holes,
        len(pattern.openings),
        off / max(int(ink.sum()), 1),
        pattern,
    )
