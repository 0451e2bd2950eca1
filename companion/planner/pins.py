"""Pins: what the sawyer decided about single cuts, and what is said when it cannot be kept.

A pin names an opening or a piece by the pattern's number, which the plan's list shows
beside each cut; its findings speak of that number too.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from companion.findings import Finding
from companion.planner.contours import Contour
from companion.planner.linework import Floats
from companion.planner.places import Places
from companion.planner.project import Pin
from companion.shop import tables
from companion.words.catalogue import Words


def pin_for(contour: Contour, pins: Sequence[Pin]) -> Pin | None:
    """The last pin that names this contour."""
    for pin in reversed(pins):
        if contour.opening is not None and pin.opening == contour.opening:
            return pin
        if contour.opening is None and pin.opening is None and pin.piece == contour.piece:
            return pin
    return None


def fan(one: Places) -> list[Floats]:
    """Directions and distances at which a pinned start looks for a hole, in steps of 1."""
    n, t = one.waste, np.stack([-one.waste[:, 1], one.waste[:, 0]], axis=1)
    turned = [n * np.cos(b) + t * np.sin(b) for b in np.radians(range(-75, 76, 15))]
    return [d * far for far in (1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 8.0) for d in turned]


def refused(contour: Contour, pin: Pin, why: str, words: Words) -> Finding:
    """The finding for a pin that is not kept."""
    what = (
        words.say("opening {n}", n=contour.opening)
        if contour.opening is not None
        else words.say("piece {n}", n=contour.piece)
    )
    return Finding(
        "pin-refused", tables.limit("pin-refused").severity, pin.start_mm,
        words.say("Your pin for {what} is not kept: {why}.", what=what, why=why),
        words.say("Move the pin or take it out of project.toml."),
    )  # fmt: skip


def unknown(pins: Iterable[Pin], contours: Iterable[Contour], words: Words) -> list[Finding]:
    """The findings for pins that name an opening or a piece that is not there."""
    every = tuple(contours)
    openings, pieces = {c.opening for c in every}, {c.piece for c in every}
    severity = tables.limit("pin-refused").severity
    found = []
    for pin in pins:
        if pin.opening is not None and pin.opening not in openings:
            text = words.say("A pin names opening {n}, which is not there.", n=pin.opening)
        elif pin.piece is not None and pin.piece not in pieces:
            text = words.say("A pin names piece {n}, which is not there.", n=pin.piece)
        else:
            continue
        remedy = words.say("See the numbers with kerfside plan.")
        found.append(Finding("pin-refused", severity, None, text, remedy))
    return found
