"""Collects findings and keeps their number readable.

Of one kind only so many are listed one by one (the table says how many); the rest are
counted in one more, so nothing is dropped silently and nothing floods the screen.
"""

from __future__ import annotations

from companion.findings import Finding, Point, Severity, in_order
from companion.pattern.limits import Limits
from companion.sentence import sentence


class Notes:
    """Findings of one reading."""

    def __init__(self, limits: Limits) -> None:
        self.limits = limits
        self.found: list[Finding] = []
        self.open_ended: set[str] = set()
        """Kinds of which there may be more than were found."""

    def add(
        self,
        code: str,
        severity: Severity,
        text: str,
        remedy: str = "",
        at_mm: Point | None = None,
        size_mm: float | None = None,
    ) -> None:
        """Keep one finding; places are rounded to the grid."""
        if at_mm is not None:
            at_mm = (round(at_mm[0], 3) + 0.0, round(at_mm[1], 3) + 0.0)
        size = None if size_mm is None else round(size_mm, 4)
        self.found.append(Finding(code, severity, at_mm, text, remedy, size))

    def findings(self) -> tuple[Finding, ...]:
        """All, in order, repeats taken out, the many of a kind summed up."""
        kept: list[Finding] = []
        counts: dict[tuple[str, Severity], int] = {}
        for finding in in_order(list(dict.fromkeys(self.found))):
            key = (finding.code, finding.severity)
            counts[key] = counts.get(key, 0) + 1
            if counts[key] <= self.limits.findings_each:
                kept.append(finding)
        for (code, severity), count in counts.items():
            more = count - self.limits.findings_each
            if more > 0:
                text = sentence(
                    "{more} more of the same kind ({code}), {count} in all.",
                    more=more,
                    code=code,
                    count=count,
                )
                if code in self.open_ended:
                    text = sentence("More of the same kind ({code}) were not listed.", code=code)
                kept.append(Finding(code, severity, None, text, ""))
        return in_order(kept)
