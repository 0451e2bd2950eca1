"""The picture of each page of reasons, on terminal cells and as SVG."""

from __future__ import annotations

from companion.draw.cells import Frame, Mode
from companion.draw.pictures_above import ABOVE
from companion.draw.pictures_side import SIDE
from companion.draw.sketch import Picture, picture_frame, picture_svg
from companion.shop.reasons import Page, reason_page

PICTURES = {**ABOVE, **SIDE}
"""What draws each page's picture, by the page's key."""


def picture_of(page: Page) -> Picture:
    """Draw a page's picture; equal pages give equal pictures."""
    return PICTURES[page.key]()


def picture_cells(topic: str, columns: int, rows: int, mode: Mode = "braille") -> Frame:
    """The picture about a topic, painted on cells.

    Args:
        topic: a stage, a turn, a finding's code or a page's key.
        columns: room, cells.
        rows: room, cells.
        mode: which canvas.

    Raises:
        UsageError: there is no page about it.
    """
    return picture_frame(picture_of(reason_page(topic)), columns, rows, mode)


def reason_svg(topic: str) -> str:
    """The same picture as an SVG document, in mm."""
    page = reason_page(topic)
    return picture_svg(picture_of(page), page.title)
