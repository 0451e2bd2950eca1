"""A quote as one PDF page, from plain rows."""

from __future__ import annotations

from collections.abc import Sequence

from companion.draw.paper import Paper, list_paper, papers
from companion.draw.pdf import Sheets
from companion.draw.pens import PENS
from companion.words import ENGLISH, Words

MARGIN_MM = 20.0
TEXT_MM = 3.6
LINE_MM = 6.0
WHAT_MM = 42.0
"""Width of the first column."""
AMOUNT_MM = 34.0
"""Width of the last."""


def quote_page(
    title: str,
    rows: Sequence[tuple[str, str, str]],
    notes: Sequence[str],
    bold: Sequence[int] = (),
    paper: Paper | None = None,
    words: Words = ENGLISH,
) -> bytes:
    """Write the page, or more when it is full.

    Args:
        title: name of the project.
        rows: what, how it was reckoned, how much.
        notes: sentences under them.
        bold: numbers of the rows that are sums.
        paper: None: A4.
        words: the language.
    """
    chosen = list_paper(paper or papers()["A4"])
    width, height = chosen.width_mm, chosen.height_mm or chosen.width_mm
    sheets = Sheets(words.say("Quote: {name}", name=title))
    y = _begin(sheets, (width, height), title, words)
    room = width - 2 * MARGIN_MM - WHAT_MM - AMOUNT_MM
    for i, (what, how, amount) in enumerate(rows):
        lines = sheets.wrap(how, room, TEXT_MM) or [""]
        if y + LINE_MM * len(lines) > height - MARGIN_MM:
            sheets.end()
            y = _begin(sheets, (width, height), title, words)
        strong = i in bold
        sheets.text((MARGIN_MM, y), what, TEXT_MM, bold=strong)
        sheets.text((width - MARGIN_MM, y), amount, TEXT_MM, "right", bold=strong)
        for line in lines:
            sheets.text((MARGIN_MM + WHAT_MM, y), line, TEXT_MM)
            y += LINE_MM
    y += LINE_MM
    for note in notes:
        for line in sheets.wrap(note, width - 2 * MARGIN_MM, TEXT_MM):
            if y > height - MARGIN_MM:
                sheets.end()
                y = _begin(sheets, (width, height), title, words)
            sheets.text((MARGIN_MM, y), line, TEXT_MM)
            y += LINE_MM
    sheets.end()
    return sheets.bytes()


def _begin(sheets: Sheets, size_mm: tuple[float, float], title: str, words: Words) -> float:
    """Head of a page; where the first row stands."""
    sheets.begin(size_mm)
    sheets.text((MARGIN_MM, MARGIN_MM + 6), words.say("Quote: {name}", name=title), 6.0, bold=True)
    sheets.pen(PENS["note"])
    y = MARGIN_MM + 11
    sheets.lines([((MARGIN_MM, y), (size_mm[0] - MARGIN_MM, y))])
    return y + 9
