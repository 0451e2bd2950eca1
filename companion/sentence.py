"""A sentence that remembers how it was made, so that it can be said in another language.

Layers that know no language (units, pattern, shop, journal) tell what is wrong in
English. A ``Sentence`` is that English text, usable wherever text is; it also keeps
its template and values, and ``companion.words`` fills the translated template with
them where the user reads it.
"""

from __future__ import annotations

from typing import Self


class Sentence(str):
    """English text with the template and the values it was made of.

    >>> told = sentence("hole {n} has {size:.1f} mm", n=7, size=2.25)
    >>> told, told.template
    ('hole 7 has 2.2 mm', 'hole {n} has {size:.1f} mm')
    """

    __slots__ = ("many", "n", "template", "values")

    template: str
    """English with named fields; of two forms the one for exactly one."""
    many: str
    """The form for other numbers; empty: there is only one form."""
    n: int
    """The number that chooses the form."""
    values: dict[str, object]
    """What fills the fields; a value may be a Sentence itself."""

    def __new__(
        cls,
        template: str,
        values: dict[str, object] | None = None,
        many: str = "",
        n: int = 1,
    ) -> Self:
        """Fill the template in."""
        chosen = template if not many or n == 1 else many
        # without values nothing is filled in: a text with braces of its own stays as it is
        made = super().__new__(cls, chosen.format_map(values) if values else chosen)
        made.template, made.many, made.n, made.values = template, many, n, values or {}
        return made


def sentence(template: str, **values: object) -> Sentence:
    """A sentence with named fields.

    Args:
        template: English; the catalogue is searched for it.
        values: of its fields.

    >>> sentence(sentence("{n} holes", n=2)).values
    {'n': 2}
    """
    if isinstance(template, Sentence):
        return template
    return Sentence(template, values)


def counted(one: str, many: str, n: int, **values: object) -> Sentence:
    """A sentence whose form goes by a number; ``{n}`` is that number.

    >>> counted("{n} speck", "{n} specks", 1), counted("{n} speck", "{n} specks", 3)
    ('1 speck', '3 specks')
    """
    return Sentence(one, {"n": n, **values}, many, n)
