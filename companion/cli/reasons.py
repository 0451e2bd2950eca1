"""The pages of reasons as text: title, picture in cells, paragraphs; for ``practice --why``."""

from __future__ import annotations

import os
import sys
from pathlib import Path

from companion.cli.common import write_whole
from companion.cli.wrapping import wrapped
from companion.draw.cells import Mode
from companion.draw.reasons import picture_cells, reason_svg
from companion.shop.reasons import pages, reason_page
from companion.words import Words

COLUMNS, ROWS = 64, 16


def canvas() -> Mode:
    """Which signs the output can show: the Linux console's font has no braille."""
    encoding = (getattr(sys.stdout, "encoding", None) or "ascii").lower()
    if "utf" not in encoding:
        return "ascii"
    return "quadrant" if os.environ.get("TERM") == "linux" else "braille"


def list_lines(words: Words) -> list[str]:
    """Every page with its short reason."""
    lines: list[str] = []
    for key, page in pages().items():
        lines += wrapped(words.say(page.why), f"{key:<17} ")
    last = words.say(
        "Read one: kerfside practice --why TOPIC; a finding's code, a step's stage or a turn "
        "serves too."
    )
    return [*lines, "", *wrapped(last)]


def page_lines(topic: str, words: Words, mode: Mode = "braille") -> list[str]:
    """One page: the short reason, its picture, the longer text.

    Raises:
        UsageError: there is none about this.
    """
    page = reason_page(topic)
    picture = picture_cells(topic, COLUMNS, ROWS, mode).text().splitlines()
    lines = [words.say(page.title), "", *wrapped(words.say(page.why)), ""]
    lines += [row.rstrip() for row in picture]
    lines += wrapped(words.say(page.caption))
    for paragraph in page.text:
        lines += ["", *wrapped(words.say(paragraph))]
    return [*lines, "", *wrapped(words.say("Source: {source}.", source=words.told(page.source)))]


def show(topic: str, svg: Path | None, words: Words) -> None:
    """Print a page, or the list for an empty topic; write its picture if asked.

    Raises:
        UsageError: no such page, or the picture cannot be written.
    """
    if not topic:
        print("\n".join(list_lines(words)))
        return
    print("\n".join(page_lines(topic, words, canvas())))
    if svg is not None:
        write_whole(svg, reason_svg(topic).encode())
        print(words.say("Wrote {file}.", file=svg))
