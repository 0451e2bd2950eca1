"""A finding: one thing noticed about a pattern or a plan, with place and remedy.

Both the reader (mends) and the planner (weak places, reach) make them, so the
type stands below both.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

Severity = Literal["stop", "warn", "note"]
Point = tuple[float, float]

SAME_PLACE_MM = 2.5
"""Findings nearer to each other are one place to mind, and share a letter."""
SEVERITY_ORDER: dict[Severity, int] = {"stop": 0, "warn": 1, "note": 2}


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing noticed."""

    code: str
    """Stable short name with hyphens, e.g. ``open-end-joined``."""
    severity: Severity
    """``stop``: do not cut this; ``warn``: it may fail; ``note``: worth knowing."""
    at_mm: Point | None
    """Where, in mm (the reader: pattern mm; in a Plan: board mm). None: everywhere."""
    text: str
    """What was found, with the measure and why it matters."""
    remedy: str
    """What to do about it; empty when nothing needs doing."""
    size_mm: float | None = None
    """The measure behind it in mm (gap, width, radius); None when there is none."""


def in_order(findings: list[Finding]) -> tuple[Finding, ...]:
    """Sort by severity, then code, then place, so that equal input gives equal output.

    What has no place stands last of its kind: that more were found is told after those listed.
    """
    nowhere = (math.inf, math.inf)
    return tuple(
        sorted(
            findings,
            key=lambda f: (SEVERITY_ORDER[f.severity], f.code, f.at_mm or nowhere, f.text),
        )
    )


def lettered(findings: Iterable[Finding]) -> list[tuple[str, Point, list[Finding]]]:
    """The places of findings, each with its letter: one naming for lists, picture and sheet.

    Args:
        findings: in order; those without a place are left out.

    Returns:
        Letter, place of the first finding there, all findings there.
    """
    places: list[tuple[str, Point, list[Finding]]] = []
    for finding in findings:
        at = finding.at_mm
        if at is None:
            continue
        near = next((f for _, p, f in places if math.dist(p, at) < SAME_PLACE_MM), None)
        if near is not None:
            near.append(finding)
        else:
            places.append((letter(len(places)), at, [finding]))
    return places


def letter(index: int) -> str:
    """A, B, ..., Z, AA, AB, ...

    >>> [letter(i) for i in (0, 25, 26, 51, 52)]
    ['A', 'Z', 'AA', 'AZ', 'BA']
    """
    text = ""
    index += 1
    while index:
        index, rest = divmod(index - 1, 26)
        text = chr(65 + rest) + text
    return text
