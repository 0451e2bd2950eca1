"""What several places share is told once: runs of numbers, sentences in common."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence


def runs(numbers: Sequence[int], name: Callable[[int], str] = str) -> str:
    """Numbers by name, with unbroken stretches shortened.

    >>> runs([1, 2, 3, 4, 7, 9, 10]), runs([0, 1, 2, 4], "abcde".__getitem__)
    ('1-4, 7, 9, 10', 'a-c, e')
    """
    found: list[list[int]] = []
    for n in numbers:
        if found and n == found[-1][-1] + 1:
            found[-1].append(n)
        else:
            found.append([n])
    return ", ".join(
        f"{name(run[0])}-{name(run[-1])}" if len(run) > 2 else ", ".join(map(name, run))
        for run in found
    )


def sentences(text: str) -> list[str]:
    """A text cut after its sentences' ends.

    >>> sentences("It is 1.5 mm thick. It may go at the saw. Ändern!")
    ['It is 1.5 mm thick.', 'It may go at the saw.', 'Ändern!']
    """
    return re.split(r"(?<=[.!?]) (?=[A-ZÄÖÜ])", text)


def alike(pairs: Iterable[tuple[int, str]]) -> dict[str, list[int]]:
    """Sentences with the numbers of the places that share them, in order.

    >>> alike([(0, "thin"), (1, "weak"), (2, "thin")])
    {'thin': [0, 2], 'weak': [1]}
    """
    found: dict[str, list[int]] = {}
    for place, text in pairs:
        found.setdefault(text, []).append(place)
    return found
