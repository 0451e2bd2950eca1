"""What forbids cutting, told at the end of a listing and on the sheet that is glued on."""

from __future__ import annotations

from collections.abc import Sequence

from companion.draw.grouping import runs
from companion.findings import Finding, letter, lettered
from companion.words import Words


def stops_text(findings: Sequence[Finding], words: Words) -> str:
    """The stops by code, with their letters; empty where there is none.

    >>> from companion.words import ENGLISH
    >>> slots = [Finding("slot", "stop", (9.0 * k, 0.0), "", "") for k in range(3)]
    >>> stops_text([*slots, Finding("reach", "stop", None, "", "")], ENGLISH)
    'STOP, do not cut before it is mended: A-C slot; reach.'
    """
    place = {id(f): i for i, (_, _, found) in enumerate(lettered(findings)) for f in found}
    stops: dict[str, set[int]] = {}
    for f in findings:
        if f.severity == "stop":
            stops.setdefault(f.code, set()).update(place[i] for i in [id(f)] if i in place)
    if not stops:
        return ""
    told = "; ".join(f"{runs(sorted(at), letter)} {code}".strip() for code, at in stops.items())
    return words.say("STOP, do not cut before it is mended: {found}.", found=told)
