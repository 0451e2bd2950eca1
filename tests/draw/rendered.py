"""Looks at a PDF through an independent renderer (PDFium)."""

from __future__ import annotations

import numpy as np
import pypdfium2
from numpy.typing import NDArray

NEAR_PX = 0.18 * 600 / 25.4
Ink = NDArray[np.bool_]
Floats = NDArray[np.float64]


def render(pdf: bytes, page: int, dpi: int = 600, threshold: int = 128) -> Ink:
    """One page as ink (True) or paper."""
    document = pypdfium2.PdfDocument(pdf)
    try:
        bitmap = document[page].render(scale=dpi / 72, grayscale=True)
        grey = np.asarray(bitmap.to_numpy())
        return grey.reshape(grey.shape[:2]) < threshold
    finally:
        document.close()


def texts(pdf: bytes) -> list[str]:
    """The text of each page."""
    document = pypdfium2.PdfDocument(pdf)
    try:
        return [page.get_textpage().get_text_bounded() for page in document]
    finally:
        document.close()


def page_sizes_mm(pdf: bytes) -> list[tuple[float, float]]:
    document = pypdfium2.PdfDocument(pdf)
    try:
        return [tuple(v * 25.4 / 72 for v in page.get_size()) for page in document]
    finally:
        document.close()


def char_boxes_mm(pdf: bytes, page: int) -> list[tuple[str, float, float, float, float]]:
    """Each character with the box of its ink: x0, y0, x1, y1 in mm from the top left."""
    document = pypdfium2.PdfDocument(pdf)
    try:
        height = document[page].get_height()
        view = document[page].get_textpage()
        found = []
        for i in range(view.count_chars()):
            left, bottom, right, top = view.get_charbox(i)
            box = (left, height - top, right, height - bottom)
            found.append((view.get_text_range(i, 1), *(v * 25.4 / 72 for v in box)))
        return found
    finally:
        document.close()


def circle_of(ink: Ink, at_px: tuple[float, float], radius_px: float) -> tuple[float, float, float]:
    """Fit a circle to the ink near one: centre and radius in pixels.

    Rays in 64 directions; on each the ink within 0.18 mm of the radius, in the middle of
    its width. Rays near the axes are left out, since the centre cross lies there.
    """
    x0, y0 = at_px
    points = []
    for a in np.arange(64) * (2 * np.pi / 64) + 0.01:
        if abs(np.sin(2 * a)) < 0.35:
            continue
        r = np.arange(radius_px - NEAR_PX, radius_px + NEAR_PX, 0.25)
        x = np.clip((x0 + r * np.cos(a)).astype(int), 0, ink.shape[1] - 1)
        y = np.clip((y0 + r * np.sin(a)).astype(int), 0, ink.shape[0] - 1)
        hit = r[ink[y, x]]
        if len(hit):
            points.append((x0 + hit.mean() * np.cos(a), y0 + hit.mean() * np.sin(a)))
    p = np.array(points)
    assert len(p) > 20, "no circle there"
    # Kasa's algebraic fit: x^2 + y^2 = 2 a x + 2 b y + c; pixel centres lie half a pixel in
    left = np.column_stack([2 * p, np.ones(len(p))])
    a, b, c = np.linalg.lstsq(left, (p**2).sum(axis=1), rcond=None)[0]
    return float(a), float(b), float(np.sqrt(c + a * a + b * b))
