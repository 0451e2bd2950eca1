"""What the sawyer calls a thing of the tables, in his language."""

from __future__ import annotations

from companion.errors import ShopError
from companion.shop import tables
from companion.words import ENGLISH, Words


def material_text(key: str, words: Words = ENGLISH) -> str:
    """A board's name from the table; a key that the table lacks stands for itself.

    >>> material_text("birch-plywood"), material_text("driftwood")
    ('birch plywood', 'driftwood')
    """
    try:
        return words.say(tables.material(key).name)
    except ShopError:
        return key
