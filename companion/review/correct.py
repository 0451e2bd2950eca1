"""Corrections of what was logged: new events, and nothing is written over.

``cut 3 took 4:30`` sets the true time, ``cut 3 call`` says that it was no work (the telephone
rang), ``mishap 2 burning`` the true kind, ``mishap 2 none`` that there was none; ``logged``
in the last place takes earlier corrections back. ``step 12`` stands for one step alone.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Any

from companion.errors import UsageError
from companion.journal.model import Entry
from companion.planner.plan import POWERED_STAGES
from companion.review.model import MishapSeen, RunSeen, StepTime
from companion.review.runs import CORRECTED
from companion.sentence import sentence
from companion.units import plain_number

FORMS = (
    "cut 3 took 4:30; cut 3 call; step 12 took 2 min; mishap 2 burning; mishap 2 none; ... logged"
)
LONGEST_S = 24 * 3600.0


def correction(
    text: str, run: RunSeen, mishaps: Sequence[MishapSeen], kinds: Collection[str], wall_s: float
) -> list[Entry]:
    """The events of one correction.

    Args:
        text: as above.
        run: with its steps.
        mishaps: all that were logged of this run, struck out ones too.
        kinds: keys of the kinds of mishap there are.
        wall_s: now, Unix time.

    Raises:
        UsageError: it is no correction, or there is no such cut, step or mishap.
    """
    words = text.lower().split()
    if len(words) < 3 or words[0] not in ("cut", "step", "mishap") or not words[1].isdecimal():
        raise _unknown(text)
    what, number, rest = words[0], int(words[1]), words[2:]
    if what == "mishap":
        return [_of_mishap(text, number, rest, run, mishaps, kinds, wall_s)]
    steps = _steps(what, number, run)
    if rest[0] == "took" and len(rest) > 1:
        seconds = _shared(seconds_of(" ".join(rest[1:])), steps)
        data: list[dict[str, Any]] = [{"took_s": round(s, 3)} for s in seconds]
    elif rest in (["call"], ["logged"]):
        key = "call" if rest == ["call"] else "as_logged"
        data = [{key: True} for _ in steps]
    else:
        raise _unknown(text)
    return [
        Entry(wall_s, 0.0, _session(run), CORRECTED, d, run.run, s.number, s.cut, s.stage)
        for d, s in zip(data, steps, strict=True)
    ]


def _session(run: RunSeen) -> str:
    """A session of its own: the minutes of the sitting stay as they were."""
    return f"right-{run.run}"[:22]


def _unknown(text: str) -> UsageError:
    return UsageError(
        sentence("no such correction: {text}", text=text), "", sentence("Say {forms}.", forms=FORMS)
    )


def _steps(what: str, number: int, run: RunSeen) -> list[StepTime]:
    """The steps meant: one, or all sawing of a cut; those not done yet left out."""
    if what == "step":
        found = [s for s in run.steps if s.number == number]
    else:
        found = [s for s in run.steps if s.cut == number and s.stage in POWERED_STAGES]
    done = [s for s in found if s.done]
    if not done:
        raise UsageError(
            sentence("{what} {number} is not done in this run", what=what, number=number),
            sentence("{n} steps in all", n=len(run.steps)),
            sentence("kerfside review PROJECT lists what was done."),
        )
    return done


def _shared(seconds: float, steps: Sequence[StepTime]) -> list[float]:
    """A time over the legs of a cut, in the proportion in which they were logged."""
    whole = sum(s.took_min for s in steps)
    if whole <= 0.0:
        return [seconds / len(steps)] * len(steps)
    return [seconds * s.took_min / whole for s in steps]


def seconds_of(text: str) -> float:
    """A time as people write it.

    >>> seconds_of("4:30"), seconds_of("95 s"), seconds_of("1,5 min"), seconds_of("2")
    (270.0, 95.0, 90.0, 120.0)
    """
    number, unit = text.strip(), 60.0
    for ending, factor in (("sec", 1.0), ("min", 60.0), ("s", 1.0), ("h", 3600.0)):
        if number.endswith(ending):
            number, unit = number.removesuffix(ending), factor
            break
    minutes, colon, rest = number.partition(":")
    if colon and minutes.strip().isdecimal() and rest.strip().isdecimal() and int(rest) < 60:
        found = 60.0 * int(minutes) + int(rest)
    else:
        found = float(plain_number(number)) * unit
    if not 0.0 < found <= LONGEST_S:
        raise UsageError(
            sentence("{text} is no time of a step", text=text), "",
            sentence("Write it as 4:30, 270 s or 4.5 min."),
        )  # fmt: skip
    return found


def _of_mishap(
    text: str, number: int, rest: list[str], run: RunSeen, mishaps: Sequence[MishapSeen],
    kinds: Collection[str], wall_s: float,
) -> Entry:  # fmt: skip
    seen = next((m for m in mishaps if m.run == run.run and m.number == number), None)
    if seen is None:
        raise UsageError(
            sentence("there is no mishap {number} in this run", number=number), "",
            sentence("kerfside review PROJECT numbers them."),
        )  # fmt: skip
    kind = "-".join(rest)
    data: dict[str, Any] = {"mishap_wall_s": seen.wall_s}
    if kind == "logged":
        data["as_logged"] = True
    elif kind in kinds:
        data["kind"] = kind
    elif kind != "none":
        raise UsageError(
            sentence("no such kind of mishap: {kind}", kind=kind), "",
            sentence("Say {kinds}, none or logged.", kinds=", ".join(kinds)),
        )  # fmt: skip
    return Entry(wall_s, 0.0, _session(run), CORRECTED, data, run.run, None, seen.cut, seen.stage)
