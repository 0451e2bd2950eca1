"""A screen as a picture, cell by cell: blocks and braille exact, other signs by a font.

Used for looking at screens; an SVG export loses runs of spaces in some renderers.
"""

from __future__ import annotations

from pathlib import Path

from PIL import Image, ImageDraw, ImageFont
from rich.color import ColorType
from rich.style import Style
from textual.app import App

WIDE, HIGH = 10, 20
FONTS = (
    "/usr/share/fonts/truetype/dejavu/DejaVuSansMono.ttf",
    "/usr/share/fonts/truetype/dejavu/DejaVuSansMono-Bold.ttf",
)
QUARTERS = dict(zip(" ▘▝▀▖▌▞▛▗▚▐▜▄▙▟█", range(16), strict=True))
Colour = tuple[int, int, int]


def _font(bold: bool) -> ImageFont.FreeTypeFont | ImageFont.ImageFont:
    path = FONTS[bold]
    return ImageFont.truetype(path, 16) if Path(path).exists() else ImageFont.load_default(16)


def _colours(style: Style | None, ground: Colour, ink: Colour) -> tuple[Colour, Colour]:
    fore, back = ink, ground
    if style is not None and style.color is not None and style.color.type is ColorType.TRUECOLOR:
        fore = tuple(style.color.get_truecolor())  # type: ignore[assignment]
    if (
        style is not None
        and style.bgcolor is not None
        and style.bgcolor.type is ColorType.TRUECOLOR
    ):
        back = tuple(style.bgcolor.get_truecolor())  # type: ignore[assignment]
    if style is not None and style.reverse:
        fore, back = back, fore
    return fore, back


def picture(
    app: App[int], ground: Colour = (0, 0, 0), ink: Colour = (229, 229, 229)
) -> Image.Image:
    """Paint what the application shows now."""
    strips = app.screen._compositor.render_strips()
    image = Image.new("RGB", (app.size.width * WIDE, app.size.height * HIGH), ground)
    draw = ImageDraw.Draw(image)
    plain, bold = _font(False), _font(True)
    for y, strip in enumerate(strips):
        x = 0
        for segment in strip:
            fore, back = _colours(segment.style, ground, ink)
            heavy = segment.style is not None and bool(segment.style.bold)
            for sign in segment.text:
                box = (x * WIDE, y * HIGH, x * WIDE + WIDE - 1, y * HIGH + HIGH - 1)
                draw.rectangle(box, fill=back)
                _sign(draw, sign, x * WIDE, y * HIGH, fore, bold if heavy else plain)
                x += 1
    return image


def _sign(
    draw: ImageDraw.ImageDraw, sign: str, x: int, y: int, colour: Colour,
    font: ImageFont.FreeTypeFont | ImageFont.ImageFont,
) -> None:  # fmt: skip
    if sign in QUARTERS:
        bits = QUARTERS[sign]
        for n in range(4):
            if bits >> n & 1:
                left, top = x + n % 2 * WIDE // 2, y + n // 2 * HIGH // 2
                draw.rectangle((left, top, left + WIDE // 2 - 1, top + HIGH // 2 - 1), fill=colour)
    elif 0x2800 <= ord(sign) <= 0x28FF:
        places = ((0, 0), (0, 1), (0, 2), (1, 0), (1, 1), (1, 2), (0, 3), (1, 3))
        for n, (column, row) in enumerate(places):
            if ord(sign) - 0x2800 >> n & 1:
                left, top = x + 1 + column * 5, y + 1 + row * 5
                draw.rectangle((left, top, left + 2, top + 2), fill=colour)
    elif sign in "─":
        draw.line((x, y + HIGH // 2, x + WIDE - 1, y + HIGH // 2), fill=colour)
    else:
        draw.text((x, y), sign, fill=colour, font=font)
