"""Refusals of drawings that paint nothing, or nothing that can be cut."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from companion.errors import PatternError
from companion.pattern.tree import Document, Node
from companion.pattern.walk import Walked
from companion.sentence import sentence


def refuse_nothing_painted(walked: Walked, document: Document, name: str) -> None:
    """Refuse a drawing without paint, and say what it is instead.

    Args:
        walked: what was found.
        document: looked through for fonts and symbols, which paint nothing themselves.
        name: how messages name the file.

    Raises:
        PatternError: nothing is painted.
    """
    if walked.painted:
        return
    codes = {n.code for n in walked.notices}
    if "text-not-read" in codes:
        raise PatternError(
            "the drawing holds only text",
            sentence("{name}: letters are not outlines yet", name=name),
            "Convert the text to outlines (paths) in a drawing program and save again.",
        )
    if "image-not-read" in codes:
        raise PatternError(
            "the drawing holds only a picture",
            sentence("{name}: a picture made of dots has no outlines", name=name),
            "Trace it to outlines in a drawing program and save again.",
        )
    _refuse_sheets(document, name)
    raise PatternError(
        "the drawing is empty",
        sentence("{name} paints nothing that shows", name=name),
        "Check that its shapes are visible and have a fill or a line.",
    )


def _refuse_sheets(document: Document, name: str) -> None:
    """Fonts (SVG 1.1 chapter 20) and symbols are stores: other drawings show them."""
    counts = Counter(_tags(document.root))
    if counts["glyph"] and (counts["font"] or document.root.tag == "font"):
        raise PatternError(
            "this is a font, not a drawing",
            sentence(
                "{name} holds {n} letters or signs, and none is set", name=name, n=counts["glyph"]
            ),
            "Set a word with it in a drawing program, convert the text to outlines (paths) and "
            "save that.",
        )
    if counts["symbol"]:
        raise PatternError(
            "this is a sheet of symbols, not a drawing",
            sentence("{name} holds {n} symbols, and shows none", name=name, n=counts["symbol"]),
            "Place the one you want in a drawing of its own and save that.",
        )


def _tags(root: Node) -> Iterator[str]:
    todo = [root]
    while todo:
        node = todo.pop()
        yield node.tag
        todo.extend(node.children)


def nothing_left(walked: Walked, as_cut: bool, name: str) -> PatternError:
    """The refusal of a drawing whose paint leaves no piece."""
    if as_cut:
        return PatternError(
            "nothing in the drawing is closed",
            sentence("{name} holds only open lines", name=name),
            "Close the outlines, so that each line ends where it starts.",
        )
    return PatternError(
        "nothing in the drawing is left to cut",
        sentence(
            "{name}: its ink is faint, covered, off the page, without area or smaller than a speck",
            name=name,
        ),
        "Check what shows on the page, and its size.",
    )
