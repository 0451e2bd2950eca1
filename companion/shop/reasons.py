"""Why things are done: a short reason and a longer page for every step, turn and finding.

Data, read on demand: nobody pays for the pages who does not ask for one. The pictures are
drawn by :mod:`companion.draw.reasons`, by the page's key.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from companion.errors import ShopError, UsageError
from companion.sentence import sentence
from companion.shop import tables
from companion.shop.model import Trust

FOLDER = tables.DATA / "reasons"
KINDS = ("stage", "turn", "finding")


@dataclass(frozen=True, slots=True)
class Page:
    """One reason at length."""

    key: str
    title: str
    why: str
    """The short reason, one sentence."""
    text: tuple[str, ...]
    """Paragraphs."""
    caption: str
    """What the picture shows."""
    source: str
    trust: Trust


@cache
def pages(folder: Path = FOLDER) -> Mapping[str, Page]:
    """All pages by key, in the table's order.

    >>> pages()["back-out"].title
    'Backing out'

    Raises:
        ShopError: a page lacks something.
    """
    raw = tables.table("pages", folder)
    return {key: _page(key, raw, folder) for key in raw if key != "sources"}


def _page(key: str, raw: Mapping[str, Any], folder: Path) -> Page:
    row, sources = raw[key], raw.get("sources", {})
    texts = [row.get(name) for name in ("title", "why", "caption")]
    text = row.get("text")
    whole = isinstance(text, list) and text and all(isinstance(t, str) and t for t in text)
    if not whole or not all(isinstance(t, str) and t for t in texts):
        raise ShopError(
            sentence("the reason {key!r} lacks a text", key=key),
            "",
            sentence("Mend it in {folder}.", folder=folder),
        )
    if row.get("s") not in sources or row.get("t") not in tables.TRUST_ORDER:
        raise ShopError(
            sentence("the reason {key!r} names no source", key=key),
            "",
            sentence("Mend it in {folder}.", folder=folder),
        )
    title, why, caption = (str(t) for t in texts)
    return Page(key, title, why, tuple(text), caption, str(sources[row["s"]]), row["t"])


@cache
def covers(folder: Path = FOLDER) -> Mapping[str, str]:
    """Page by what is asked about: stages, turns and finding codes together."""
    raw = tables.table("covers", folder)
    return {name: str(page) for kind in KINDS for name, page in raw.get(kind, {}).items()}


def page_of(topic: str, folder: Path = FOLDER) -> Page | None:
    """The page about a stage, a turn, a finding's code, or by its own key; None: there is none.

    >>> page_of("neck-thin").key, page_of("thread").key, page_of("juggling")
    ('necks', 'threading', None)
    """
    known = pages(folder)
    return known.get(covers(folder).get(topic, topic))


def reason_page(topic: str) -> Page:
    """The page about a topic.

    Raises:
        UsageError: there is none.
    """
    found = page_of(topic)
    if found is None:
        raise UsageError(
            sentence("no page about {topic!r}", topic=topic),
            "",
            sentence(
                "There are pages about: {known}; any finding's code serves too.",
                known=", ".join(pages()),
            ),
        )
    return found
