"""The review as one HTML file that asks nothing of any network.

Style, pictures and all stand in the file; a content policy forbids the rest. It follows the
reader's dark or light setting, and prints black on white, a section kept together where it
fits.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from companion.planner.plan import Plan
from companion.review import charts, insight
from companion.review.advice import in_short
from companion.review.build import curve_names, newest_curves
from companion.review.model import SHARES, MishapSeen, Review, RunSeen
from companion.review.text import mishap_name, share_names, way_text, when
from companion.review.worktime import learning_rate
from companion.words import Words

STYLE = Path(__file__).parent / "page.css"
SESSIONS_SHOWN = 60
MISHAPS_SHOWN = 60
HISTORIES_SHOWN = 12
"""Works whose runs are shown one after another, the last ones worked on."""
LONG = 24
"""Rows beyond which a table may be parted between two sheets."""
BARS_SHOWN = 24
"""Cuts in one picture: more of them fit on no screen and no sheet."""


@dataclass(frozen=True, slots=True)
class Detail:
    """One run that is shown closely."""

    run: RunSeen
    """With its steps."""
    plan: Plan | None
    """None: not kept."""
    mishaps: tuple[MishapSeen, ...]
    """Of this run."""


class _Page:
    """The document as it grows."""

    def __init__(self, title: str, words: Words) -> None:
        self.words = words
        self.root = ET.Element("html", {"lang": words.language})
        head = ET.SubElement(self.root, "head")
        ET.SubElement(head, "meta", {"charset": "utf-8"})
        policy = "default-src 'none'; style-src 'unsafe-inline'; img-src data:"
        ET.SubElement(head, "meta", {"http-equiv": "Content-Security-Policy", "content": policy})
        ET.SubElement(head, "meta", {"name": "viewport", "content": "width=device-width"})
        ET.SubElement(head, "meta", {"name": "color-scheme", "content": "light dark"})
        ET.SubElement(head, "title").text = title
        # an empty picture: else a browser would go and ask for one
        ET.SubElement(head, "link", {"rel": "icon", "href": "data:,"})
        ET.SubElement(head, "style").text = STYLE.read_text(encoding="utf-8")
        self.body = ET.SubElement(ET.SubElement(self.root, "body"), "main")
        ET.SubElement(self.body, "h1").text = title

    def section(self, title: str, level: int = 2) -> ET.Element:
        part = ET.SubElement(self.body, "section")
        ET.SubElement(part, f"h{level}").text = title
        return part

    def table(
        self, parent: ET.Element, heads: Sequence[str], rows: Sequence[Sequence[str]], text: int = 1
    ) -> None:
        """Add a table; so many columns from the left are text, the others numbers."""
        frame = ET.SubElement(parent, "div", {"class": "scroll"})
        table = ET.SubElement(frame, "table", {"class": "long"} if len(rows) > LONG else {})
        top = ET.SubElement(ET.SubElement(table, "thead"), "tr")
        for i, head in enumerate(heads):
            ET.SubElement(top, "th", {"scope": "col", "class": "" if i < text else "n"}).text = head
        body = ET.SubElement(table, "tbody")
        for row in rows:
            line = ET.SubElement(body, "tr")
            for i, cell in enumerate(row):
                ET.SubElement(line, "td", {"class": "" if i < text else "n"}).text = cell

    def text(self, parent: ET.Element, sentence: str) -> None:
        ET.SubElement(parent, "p").text = sentence

    def html(self) -> str:
        return "<!DOCTYPE html>\n" + ET.tostring(self.root, encoding="unicode", method="html")


def review_page(
    found: Review, details: Sequence[Detail], words: Words, title: str = "", sawyer: str = "",
    own: bool = True,
) -> str:  # fmt: skip
    """Write the page.

    Args:
        found: all that is told; steps are not needed.
        details: runs to be shown closely.
        words: the language.
        title: of the page; empty: a general one.
        sawyer: whose journal it is; what it comes down to is told of that one alone.
        own: see :func:`companion.review.advice.in_short`.
    """
    page = _Page(title or words.say("Review of the work at the saw"), words)
    if not found.sessions and not found.runs:
        page.text(page.body, words.say("Nothing is logged yet."))
        return page.html()
    short = in_short(found, words, sawyer, own)
    if short:
        part = page.section(words.say("In short"))
        lines = ET.SubElement(part, "ul")
        for line in short:
            ET.SubElement(lines, "li").text = line
    people = insight.people(found)
    _in_all(page, found, people)
    _people(page, people)
    for detail in details:
        _detail(page, detail, curve_names(found.runs))
    _history(page, found)
    _sessions(page, found)
    return page.html()


def _in_all(page: _Page, found: Review, people: Sequence[insight.Person]) -> None:
    say, number, t = page.words.say, page.words.number, found.totals
    part = page.section(say("In all"))
    figures = [
        (say("sessions"), f"{t.sessions}"), (say("minutes at the saw"), number(t.minutes, 0)),
        (say("finished runs"), f"{t.runs_done}"),
        (say("length cut"), way_text(t.cut_mm, page.words)),
    ]  # fmt: skip
    if len(people) == 1:
        # several stand side by side: nobody practises in another's row
        heads = _practice_heads(page.words)
        figures += zip(heads, _practice(people[0].practice), strict=True)
    if t.planned_done_min > 0:
        against = 100 * (t.took_done_min / t.planned_done_min - 1)
        figures.append((say("taken against planned"), f"{against:+.0f} %"))
    page.table(part, (say("what"), say("number")), figures)
    names = share_names(page.words)
    rows = [(names[s], t.shares.get(s, 0.0)) for s in SHARES]
    if t.minutes > 0:
        part = page.section(say("Where the time went"))
        part.append(charts.shares(rows, say("Shares of the time at the saw")))
        page.table(part, (say("what"), say("minutes"), say("share")), [
            (n, number(v), f"{100 * v / t.minutes:.0f} %") for n, v in rows
        ])  # fmt: skip
    if t.mishaps:
        part = page.section(say("Mishaps"))
        page.table(part, (say("kind"), say("times")), [
            (mishap_name(k, page.words), str(n)) for k, n in t.mishaps.items()
        ])  # fmt: skip


def _practice_heads(words: Words) -> tuple[str, ...]:
    say = words.say
    return (say("days with work"), say("longest row of days"), say("weeks in a row now"),
            say("longest row of weeks"))  # fmt: skip


def _practice(row: insight.Streaks) -> tuple[str, ...]:
    return tuple(str(n) for n in (row.days, row.longest_days, row.current_weeks, row.longest_weeks))


def _people(page: _Page, people: Sequence[insight.Person]) -> None:
    if len(people) < 2:
        return
    say, number = page.words.say, page.words.number
    part = page.section(say("Sawyers side by side"))
    page.table(
        part,
        (say("name"), say("sessions"), say("minutes"), say("finished runs"), say("length cut"),
         say("against plan"), say("mishaps an hour")),
        [
            (p.name or say("(no name)"), str(p.sessions), number(p.minutes, 0), str(p.runs_done),
             way_text(p.cut_mm, page.words),
             "-" if p.against_plan is None else f"{100 * (p.against_plan - 1):+.0f} %",
             number(p.mishaps_per_hour, 2))
            for p in people
        ],
    )  # fmt: skip
    page.table(part, (say("name"), *_practice_heads(page.words)), [
        (p.name or say("(no name)"), *_practice(p.practice)) for p in people
    ])  # fmt: skip


def _detail(page: _Page, detail: Detail, names: Mapping[tuple[str, str], str]) -> None:
    say, number, run = page.words.say, page.words.number, detail.run
    project = names.get((run.work, run.sawyer), run.project)
    part = page.section(say("{project}, {when}", project=project, when=when(run.begun_s)))
    page.text(part, say(
        "worked {took} min, planned {likely} ({low} to {high}); {material}, {thick} mm, stack of "
        "{stack}, blade {blade}", took=f"{run.took_min:.1f}", likely=f"{run.planned.likely:.1f}",
        low=f"{run.planned.low:.1f}", high=f"{run.planned.high:.1f}", material=run.material,
        thick=f"{run.thickness_mm:g}", stack=run.stack, blade=run.blade,
    ))  # fmt: skip
    _stages(page, run)
    _cuts(page, run)
    if detail.plan is not None:
        _board(page, detail, detail.plan)
    blades = insight.per_blade(run, detail.mishaps)
    if blades:
        part = page.section(say("Minutes on each blade"), 3)
        page.table(part, (say("blade"), say("minutes of sawing")),
                   [(str(i), number(m)) for i, m in enumerate(blades, 1)])  # fmt: skip
    if detail.mishaps:
        part = page.section(say("Mishaps by kind, cut and technique"), 3)
        rows = insight.mishap_table(detail.mishaps, detail.plan)
        page.table(part, (say("kind"), say("cut"), say("at"), say("times")), [
            (mishap_name(kind, page.words), cut, say(place), str(n))
            for kind, cut, place, n in rows
        ], text=3)  # fmt: skip


def _stages(page: _Page, run: RunSeen) -> None:
    say, number = page.words.say, page.words.number
    stages = insight.by_stage(run.steps)
    if not stages:
        return
    part = page.section(say("Stages: planned against taken"), 3)
    rows = [charts.Bar(say(s.stage), s.planned_min, s.low_min, s.high_min, s.took_min)
            for s in stages]  # fmt: skip
    part.append(charts.bars(rows, say("Minutes by stage"), page.words))
    page.text(part, _bars_key(page.words))
    page.table(
        part, (say("stage"), say("steps"), say("planned"), say("low"), say("high"), say("taken")),
        [(say(s.stage), str(s.steps), number(s.planned_min), number(s.low_min),
          number(s.high_min), number(s.took_min)) for s in stages],
    )  # fmt: skip


def _bars_key(words: Words) -> str:
    return words.say("Bar: taken. Tall tick: planned; the line beside it: four times in five.")


def _cuts(page: _Page, run: RunSeen) -> None:
    say, number = page.words.say, page.words.number
    begun = [c for c in run.cuts if c.took_min or c.done]
    if not begun:
        return
    part = page.section(say("Cuts: planned against taken"), 3)
    drawn = begun
    if len(begun) > BARS_SHOWN:
        off = sorted(begun, key=lambda c: -abs(c.took_min - c.planned.likely))[:BARS_SHOWN]
        drawn = sorted(off, key=lambda c: c.number)
        page.text(part, say("Drawn are the {n} furthest from their plan; the table lists all.",
                            n=BARS_SHOWN))  # fmt: skip
    rows = [charts.Bar(say("cut {n}", n=c.number), c.planned.likely, c.planned.low, c.planned.high,
                       c.took_min) for c in drawn]  # fmt: skip
    part.append(charts.bars(rows, say("Minutes by cut"), page.words))
    page.text(part, _bars_key(page.words))
    page.table(
        part,
        (say("cut"), say("side"), say("length"), say("turns"), say("planned"), say("taken"),
         say("against plan"), say("threading"), say("mishaps")),
        [
            (str(c.number), say(c.side) if c.side else "", page.words.length(c.length_mm, 0),
             str(sum(c.turns.values())), number(c.planned.likely), number(c.took_min),
             "-" if c.ratio is None else f"{100 * (c.ratio - 1):+.0f} %",
             number(c.thread_took_min), str(c.mishaps))
            for c in begun
        ],
        text=2,
    )  # fmt: skip
    right = [str(c.number) for c in run.cuts if c.corrected]
    if right:
        page.text(part, say("Corrected afterwards: cut {list}. The log keeps what was written "
                            "first too.", list=", ".join(right)))  # fmt: skip


def _board(page: _Page, detail: Detail, plan: Plan) -> None:
    say = page.words.say
    part = page.section(say("The board: where it was slow, and where mishaps were"), 3)
    part.append(charts.board(plan, detail.run.cuts, detail.mishaps, say("Board with its cuts")))
    key = ET.SubElement(part, "p", {"class": "key"})
    for i, name in enumerate((
        say("not done"), say("quicker than planned"), say("as planned"), say("up to half slower"),
        say("up to twice as slow"), say("slower still"),
    )):  # fmt: skip
        ET.SubElement(key, "span", {"class": f"chip tone{i}"}).text = name
    ET.SubElement(key, "span").text = say("Cross: a mishap. The slower, the wider the line.")


def _history(page: _Page, found: Review) -> None:
    say, number = page.words.say, page.words.number
    names = curve_names(found.runs)
    for work, times in newest_curves(found.runs, HISTORIES_SHOWN).items():
        part = page.section(say("{project}: run by run", project=names[work]))
        part.append(charts.curve(times, say("Minutes of each finished run")))
        fit = learning_rate(times)
        if fit is not None:
            page.text(part, say(
                "Learning curve (unit model): each doubling of the runs takes {rate} % of the "
                "time; the first one {first} min.", rate=f"{100 * fit[1]:.0f}",
                first=f"{fit[0]:.1f}",
            ))  # fmt: skip
        page.table(part, (say("run"), say("minutes")),
                   [(str(i), number(m)) for i, m in enumerate(times, 1)])  # fmt: skip


def _sessions(page: _Page, found: Review) -> None:
    say, number, names = page.words.say, page.words.number, share_names(page.words)
    part = page.section(say("Sessions"))
    shown = found.sessions[-SESSIONS_SHOWN:]
    if len(shown) < len(found.sessions):
        page.text(part, page.words.count("{n} earlier one; --json lists it.",
                                         "{n} earlier ones; --json lists them.",
                                         len(found.sessions) - len(shown)))  # fmt: skip
    rows: list[Sequence[str]] = []
    for s in reversed(shown):
        made_up = " " + say("(rehearsal)") if s.rehearsed else ""
        rows.append((when(s.begun_s, s.utc_offset_min), f"{s.project}{made_up}", s.sawyer,
                     number(s.minutes), *(number(s.shares.get(k, 0.0)) for k in SHARES),
                     str(s.steps_done), str(s.mishaps)))  # fmt: skip
    heads = (say("begun"), say("project"), say("sawyer"), say("minutes"),
             *(names[k] for k in SHARES), say("steps"), say("mishaps"))  # fmt: skip
    page.table(part, heads, rows, text=3)
    if found.notes:
        part = page.section(say("Notes"))
        notes = found.notes[-MISHAPS_SHOWN:]
        page.table(part, (say("when"), say("note")),
                   [(when(n.wall_s), n.text) for n in reversed(notes)], text=2)  # fmt: skip


def detail_of(
    run: RunSeen, mishaps: Sequence[MishapSeen], plans: Mapping[str, Plan | None]
) -> Detail:
    """Put a run together with its plan and mishaps.

    Args:
        run: with its steps.
        mishaps: of any runs.
        plans: by run.
    """
    return Detail(run, plans.get(run.run), tuple(m for m in mishaps if m.run == run.run))
