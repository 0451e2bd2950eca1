"""Counts work against a limit, so that no drawing keeps the reader busy beyond measure."""

from __future__ import annotations

from companion.errors import PatternError
from companion.pattern.watchdog import check
from companion.sentence import sentence


class Budget:
    """So much of one kind of work over the whole drawing.

    Args:
        most: the limit.
        title: what is wrong when it is passed, as an error's title.
        name: how messages name the file.
        remedy: what to do then.
    """

    def __init__(self, most: int, title: str, name: str, remedy: str) -> None:
        self.left = most
        self.most = most
        self.title = title
        self.name = name
        self.remedy = remedy

    def take(self, count: float) -> None:
        """Use up some.

        Raises:
            PatternError: more than the limit.
        """
        check()
        self.left -= int(min(count, 1e12))
        if self.left < 0:
            raise PatternError(
                self.title,
                sentence("{name} passes {most:,}", name=self.name, most=self.most),
                self.remedy,
            )


SIMPLIFY = "Simplify its paths in a drawing program, or make it smaller."
PLAIN = "Save it again from a drawing program as plain SVG."


def points_budget(most: int, name: str) -> Budget:
    """Points after flattening."""
    return Budget(most, "the drawing has too many points", name, SIMPLIFY)


def dash_budget(most: int, name: str) -> Budget:
    """Dashes."""
    return Budget(most, "the drawing has too many dashes", name, "Make its lines solid.")


def overlay_budget(most: int, name: str) -> Budget:
    """Points gone over while regions are cut out of one another."""
    return Budget(most, "the drawing's layers are too many and too detailed", name, SIMPLIFY)


def style_budget(most: int, name: str) -> Budget:
    """Style rules tried on elements."""
    return Budget(most, "the drawing's style rules are too many", name, PLAIN)
