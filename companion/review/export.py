"""A review as JSON, its steps as CSV, and the bare events as JSON Lines."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Iterator
from dataclasses import asdict
from typing import Any

from companion.journal.model import Event
from companion.review.model import Review, RunSeen

SCHEMA = 1
CSV_COLUMNS = (
    "project", "sawyer", "run", "batch", "number", "rehearsed", "begun_utc_s", "material",
    "thickness_mm", "stack", "blade", "step", "stage", "cut", "title", "planned_low_min",
    "planned_min", "planned_high_min", "took_min", "done", "corrected",
)  # fmt: skip


def review_json(found: Review) -> str:
    """The review, schema 1: sessions, runs with their cuts and steps, mishaps, notes, totals."""
    whole = _rounded({"schema": SCHEMA, **asdict(found)})
    for run, seen in zip(whole["runs"], found.runs, strict=True):
        for cut, timed in zip(run["cuts"], seen.cuts, strict=True):
            cut["ratio"] = None if timed.ratio is None else round(timed.ratio, 4)
    return json.dumps(whole, ensure_ascii=False, indent=1)


def _rounded(value: Any) -> Any:  # noqa: ANN401  # JSON is untyped by nature
    if isinstance(value, float):
        return round(value, 4)
    if isinstance(value, dict):
        return {k: _rounded(v) for k, v in value.items()}
    return [_rounded(v) for v in value] if isinstance(value, list | tuple) else value


def steps_csv(runs: Iterable[RunSeen]) -> str:
    """One line for each step of each run, RFC 4180 with a heading.

    Text that a spreadsheet would take for a formula gets an apostrophe before it.
    """
    out = io.StringIO()
    table = csv.writer(out)
    table.writerow(CSV_COLUMNS)
    for r in runs:
        if r.superseded:
            continue
        for s in r.steps:
            table.writerow([_cell(v) for v in (
                r.project, r.sawyer, r.run, r.batch, r.number, int(r.rehearsed),
                round(r.begun_s, 3), r.material, r.thickness_mm, r.stack, r.blade, s.number,
                s.stage, s.cut, s.title, round(s.planned.low, 4), round(s.planned.likely, 4),
                round(s.planned.high, 4), round(s.took_min, 4), int(s.done), int(s.corrected),
            )])  # fmt: skip
    return out.getvalue()


def _cell(value: object) -> object:
    return f"'{value}" if isinstance(value, str) and value[:1] in tuple("=+-@\t\r") else value


def event_lines(events: Iterable[Event]) -> Iterator[str]:
    """Each event as one line of JSON, in the order of writing."""
    for event in events:
        yield json.dumps(asdict(event), ensure_ascii=False)
