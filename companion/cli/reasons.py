"""The pages of reasons as text: title, picture in cells, paragraphs; for ``practice --why``."""

from __future__ import annotations

import os
import sys
import textwrap
from pathlib import Path

from companion.cli.common import write_whole
from companion.draw.cells import Mode
from companion.draw.reasons import picture_cells, reason_svg
from companion.shop.reasons import pages, reason_page
from companion.words import Words

COLUMNS, ROWS = 64, 16
TEXT_COLUMNS = 78


def canvas() -> Mode:
    """Which signs the output can show: the Linux console's font has no braille."""
    encoding = (getattr(sys.stdout, "encoding", None) or "ascii").lower()
    if "utf" not in encoding:
        return "ascii"
    return "quadrant" if os.environ.get("TERM") == "linux" else "braille"


def list_lines(words: Words) -> list[str]:
    """Every page with its short reason."""
    lines = [f"{key:<18} {words.say(page.why)}" for key, page in pages().items()]
    return [*lines, "", words.say("Read one: kerfside practice --why TOPIC; a finding's code, a "
                                  "step's stage or a turn serves too.")]  # fmt: skip


def page_lines(topic: str, words: Words, mode: Mode = "braille") -> list[str]:
    """One page: the short reason, its picture, the longer text.

    Raises:
        UsageError: there is none about this.
    """
    page = reason_page(topic)
    picture = picture_cells(topic, COLUMNS, ROWS, mode).text().splitlines()
    lines = [words.say(page.title), "", *textwrap.wrap(words.say(page.why), TEXT_COLUMNS), ""]
    lines += [row.rstrip() for row in picture]
    lines += textwrap.wrap(words.say(page.caption), TEXT_COLUMNS)
    for paragraph in page.text:
        lines += ["", *textwrap.wrap(words.say(paragraph), TEXT_COLUMNS)]
    return [*lines, "", words.say("Source: {source}.", source=page.source)]


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
