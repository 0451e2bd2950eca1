"""Draws the pictures of the README from the real program.

    python -m tests.tools.pictures

Screens are taken cell by cell and written as SVG by us, so that no font or
renderer of this machine is in them; sheet and check pictures are the program's
own SVG. A test draws them again and compares all but the numbers.
"""

from __future__ import annotations

import asyncio
import re
from collections.abc import Awaitable, Callable
from pathlib import Path
from xml.sax.saxutils import escape

from rich.style import Style

from companion.cli.common import shipped_plan
from companion.devices.paths import shipped
from companion.draw.hatch import with_hatch
from companion.draw.labels import with_numbers
from companion.draw.pattern_picture import pattern_picture
from companion.draw.scene import build_scene
from companion.draw.svg import svg_text
from companion.pattern.options import ReadOptions
from companion.pattern.reader import read_pattern
from companion.tui.widgets import Eye
from tests.tui.rig import Rig

FOLDER = Path(__file__).parents[2] / "demo_projects" / "pictures"
WIDE, HIGH = 8, 16
QUARTERS = dict(zip(" ▘▝▀▖▌▞▛▗▚▐▜▄▙▟█", range(16), strict=True))
DOTS = ((0, 0), (0, 1), (0, 2), (1, 0), (1, 1), (1, 2), (0, 3), (1, 3))
"""Column and row of each braille bit (Unicode 15.0, Braille Patterns)."""
GROUND, INK = "#000000", "#e5e5e5"


def _colours(style: Style | None) -> tuple[str, str]:
    fore, back = INK, GROUND
    if style is not None:
        if style.color is not None and style.color.triplet is not None:
            fore = style.color.triplet.hex
        if style.bgcolor is not None and style.bgcolor.triplet is not None:
            back = style.bgcolor.triplet.hex
        if style.reverse:
            fore, back = back, fore
    return fore, back


def _square(x: float, y: float, w: float, h: float) -> str:
    return f"M{x:g} {y:g}h{w:g}v{h:g}h{-w:g}z"


def _blocks(sign: str, x: int, y: int) -> list[str]:
    """The squares of a block or braille sign; empty for any other sign."""
    if sign in QUARTERS:
        return [
            _square(x + n % 2 * WIDE / 2, y + n // 2 * HIGH / 2, WIDE / 2, HIGH / 2)
            for n in range(4)
            if QUARTERS[sign] >> n & 1
        ]
    if 0x2800 <= ord(sign) <= 0x28FF:
        bits = ord(sign) - 0x2800
        return [
            _square(x + 1 + c * 4, y + 1 + r * 4, 2, 2)
            for n, (c, r) in enumerate(DOTS)
            if bits >> n & 1
        ]
    return []


def screen_svg(app: Rig) -> str:
    """What the screen shows now, as SVG."""
    wide, high = app.size.width * WIDE, app.size.height * HIGH
    grounds: list[str] = []
    fills: dict[str, list[str]] = {}
    texts: list[str] = []
    for row, strip in enumerate(app.screen._compositor.render_strips()):
        column = 0
        for segment in strip:
            fore, back = _colours(segment.style)
            x, y = column * WIDE, row * HIGH
            if back != GROUND:
                size = f'width="{len(segment.text) * WIDE}" height="{HIGH}"'
                grounds.append(f'<rect x="{x}" y="{y}" {size} fill="{back}"/>')
            plain = ""
            for n, sign in enumerate(segment.text):
                squares = _blocks(sign, x + n * WIDE, y)
                fills.setdefault(fore, []).extend(squares)
                plain += " " if squares or sign == "\u2800" else sign
            if plain.strip():
                start = len(plain) - len(plain.lstrip())
                word = plain.strip()
                weight = ' font-weight="bold"' if segment.style and segment.style.bold else ""
                texts.append(
                    f'<text x="{x + start * WIDE}" y="{y + 12}" fill="{fore}"{weight} '
                    f'textLength="{len(word) * WIDE}" xml:space="preserve">{escape(word)}</text>'
                )
            column += len(segment.text)
    drawn = [f'<path fill="{colour}" d="{"".join(d)}"/>' for colour, d in fills.items() if d]
    return "\n".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide} {high}" '
            'font-family="monospace" font-size="13">',
            f'<rect width="{wide}" height="{high}" fill="{GROUND}"/>',
            '<g shape-rendering="crispEdges">',
            *grounds, *drawn, "</g>", *texts, "</svg>\n",
        ]
    )  # fmt: skip


async def _screen(to: Callable[[Rig], None], size: tuple[int, int]) -> str:
    app = Rig(shipped_plan("beach_ornaments"), eye=Eye(4.5, 900.0))
    async with app.run_test(size=size) as pilot:
        await pilot.pause()
        to(app)
        await pilot.pause()
        return screen_svg(app)


def _cutting(app: Rig) -> None:
    app.to_cut(18)
    app.test_clock.now += 25.0
    app.show()


def screens() -> dict[str, Callable[[], Awaitable[str]]]:
    """The screens by file name."""
    return {
        "checklist.svg": lambda: _screen(lambda app: app.close_overlay(), (120, 40)),
        "cutting.svg": lambda: _screen(_cutting, (120, 40)),
    }


def screen(name: str) -> str:
    """One screen as it is drawn today."""

    async def made() -> str:
        return await screens()[name]()

    return asyncio.run(made())


def drawings() -> dict[str, str]:
    """The program's own drawings by file name."""
    numbered, _ = with_numbers(build_scene(shipped_plan("beach_ornaments")))
    sign = shipped("demo_projects") / "harbour_sign" / "pattern.svg"
    return {
        "sheet.svg": svg_text(with_hatch(numbered), "Beach ornaments"),
        "read.svg": pattern_picture(read_pattern(sign, ReadOptions(width_mm=240.0)), "Harbour"),
    }


def all_pictures() -> dict[str, str]:
    """Every picture as it is drawn today."""
    return {name: screen(name) for name in screens()} | drawings()


def bare(text: str) -> str:
    """A picture without its numbers: they differ in the last digits between processors."""
    return re.sub(r"-?\d+(\.\d+)?(e-?\d+)?", "#", text)


if __name__ == "__main__":
    FOLDER.mkdir(exist_ok=True)
    for name, text in all_pictures().items():
        (FOLDER / name).write_text(text, encoding="utf-8")
        print(name, len(text))
