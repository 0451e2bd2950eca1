"""The list pages: safety first, what to get ready, drills, places to mind, the cuts.

Laid out top to bottom by a small writer that starts a new page when a block does
not fit; every page bears the plan's short hash and the check bars.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from companion.draw import marks
from companion.draw.frame import Head, draw_frame
from companion.draw.grouping import alike, runs, sentences
from companion.draw.list_texts import drill_text, length_text, minutes_text, turns_text
from companion.draw.paper import FOOT_MM, HEAD_MM, SIDE_MM, Layout, list_paper
from companion.draw.pdf import Sheets
from companion.draw.pens import PENS, Pen
from companion.draw.scene import Scene, notes_of
from companion.draw.stops import stops_text
from companion.findings import Point, letter
from companion.planner.plan import Plan
from companion.planner.rounds import drill_rounds
from companion.shop.model import Checklist
from companion.shop.names import material_text
from companion.words import Words

TEXT_MM = 3.2
"""Em size of the lists, 9 pt."""
LINE_MM = 4.3
RULE = Pen(0.1)
BOX = Pen(0.3)


@dataclass(frozen=True, slots=True)
class Lists:
    """What the list pages tell."""

    plan: Plan
    scene: Scene
    layout: Layout
    words: Words
    safety: Checklist
    """The cautions, with their signal words."""
    plan_hash: str
    """The plan's short hash; made once, it costs 0.3 s on a plan of 1,000 cuts."""
    unplaced: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Column:
    """One column of the table of cuts."""

    title: str
    share: float
    """Part of the table's width."""
    align: str = "left"


class _Writer:
    """Writes down a page and turns to the next when it is full."""

    def __init__(self, sheets: Sheets, lists: Lists) -> None:
        self.sheets = sheets
        self.lists = lists
        small = list_paper(lists.layout.paper)
        self.page_mm = (small.width_mm, small.height_mm or 297.0)
        self.left, self.right = SIDE_MM + 2.0, self.page_mm[0] - SIDE_MM - 2.0
        self.bottom = self.page_mm[1] - FOOT_MM - 1.5
        self.number = 0
        self.turn()

    @property
    def width(self) -> float:
        return self.right - self.left

    def turn(self) -> None:
        """Begin the next page."""
        if self.number:
            self.sheets.end()
        self.number += 1
        words, plan = self.lists.words, self.lists.plan
        self.sheets.begin(self.page_mm)
        right = words.say("plan {hash}   list {n}", hash=self.lists.plan_hash, n=self.number)
        draw_frame(self.sheets, self.page_mm, Head(plan.project.name, right), words)
        self.y = HEAD_MM + 4.0

    def room(self, height: float) -> None:
        """Turn the page unless so much room is left."""
        if self.y + height > self.bottom:
            self.turn()

    def heading(self, text: str) -> None:
        """A heading, kept with at least two lines after it."""
        self.room(6.0 + 2 * LINE_MM)
        self.y += 6.0
        self.sheets.text((self.left, self.y), text, 4.2, bold=True)
        self.y += 1.5

    def paragraph(self, text: str, indent: float = 0.0, bold: bool = False) -> None:
        """A text over the full width, broken into lines."""
        for line in self.sheets.wrap(text, self.width - indent, TEXT_MM, bold):
            self.room(LINE_MM)
            self.y += LINE_MM
            self.sheets.text((self.left + indent, self.y), line, TEXT_MM, bold=bold)

    def item(self, text: str) -> None:
        """A line with a box to tick."""
        lines = self.sheets.wrap(text, self.width - 6.0, TEXT_MM)
        self.room(LINE_MM * len(lines))
        self.sheets.pen(RULE)
        self.sheets.lines([marks.box(self.left, self.y + LINE_MM - 2.6, 2.8, 2.8)])
        for line in lines:
            self.y += LINE_MM
            self.sheets.text((self.left + 5.0, self.y), line, TEXT_MM)


def draw_lists(sheets: Sheets, lists: Lists) -> None:
    """Write all list pages."""
    writer = _Writer(sheets, lists)
    _safety(writer)
    _summary(writer)
    _shopping(writer)
    _drills(writer)
    _legend(writer)
    _notes(writer)
    _cuts(writer)
    sheets.end()


def _safety(writer: _Writer) -> None:
    """The cautions in a box, gravest signal word first; the manual and the codes before all."""
    lists, sheets, words = writer.lists, writer.sheets, writer.lists.words
    asked = (*lists.safety.full, *lists.safety.first, *lists.safety.short)
    top = writer.y
    x, width = writer.left + 3.0, writer.width - 6.0
    writer.y += 2.5 + LINE_MM
    sheets.text((x, writer.y), words.say(lists.safety.precedence), TEXT_MM + 0.6, bold=True)
    for signal in ("DANGER", "WARNING", "CAUTION", "NOTICE"):
        items = [i for i in asked if i.signal == signal]
        if not items:
            continue
        writer.y += LINE_MM + 3.0
        beside = 0.0
        if signal != "NOTICE":  # ANSI Z535.4: no alert symbol where nobody can be hurt
            _alert((x + 2.4, writer.y - 1.3), sheets)
            beside = 6.5
        sheets.text((x + beside, writer.y), words.say(signal), 4.4, bold=True)
        text = " ".join(dict.fromkeys(words.say(i.say) for i in items))
        for part in sheets.wrap(text, width, TEXT_MM):
            writer.y += LINE_MM
            sheets.text((x, writer.y), part, TEXT_MM)
    writer.y += 2.5
    sheets.pen(Pen(0.6))
    sheets.lines([marks.box(writer.left, top, writer.width, writer.y - top)])


def _alert(at: Point, sheets: Sheets) -> None:
    """The safety alert symbol: an exclamation mark in a triangle (ANSI Z535.4)."""
    x, y = at
    sheets.pen(Pen(0.4))
    sheets.lines([((x - 2.4, y + 1.6), (x, y - 2.6), (x + 2.4, y + 1.6), (x - 2.4, y + 1.6))])
    sheets.lines([((x, y - 1.1), (x, y + 0.3)), ((x, y + 0.8), (x, y + 1.2))])


def _summary(writer: _Writer) -> None:
    lists = writer.lists
    plan, words = lists.plan, lists.words
    thinnest = ""
    if plan.necks:
        least = min(n.thickness_mm for n in plan.necks)
        thinnest = words.say("thinnest place {size}", size=length_text(least, words))
    writer.heading(plan.project.name or words.say("Cut list"))
    parts = [
        words.count("{n} piece", "{n} pieces", plan.pieces),
        words.count("{n} opening", "{n} openings", plan.openings),
        words.count("{n} hole", "{n} holes", len(plan.drilled)),
        words.say("{n} of them to size", n=len(plan.to_size)) if plan.to_size else "",
        words.say(
            "{likely} of work ({low} to {high}), {finish} of them finishing",
            likely=words.duration(plan.minutes.likely), low=words.duration(plan.minutes.low),
            high=words.duration(plan.minutes.high), finish=words.duration(plan.finish_min),
        ),
        words.say("drying on top {time}", time=words.duration(plan.drying_min))
        if plan.drying_min
        else "",
        thinnest,
    ]  # fmt: skip
    writer.paragraph(", ".join(p for p in parts if p) + ".")
    if lists.scene.mirrored:
        writer.paragraph(
            words.say(
                "This sheet is mirrored for gluing to the back. Follow its arrows: clockwise "
                "on the screen is anticlockwise here."
            ),
            bold=True,
        )
    if any(text.isdigit() for text in lists.unplaced):
        writer.paragraph(
            words.say(
                "Some numbers found no room at true size: look for them on the key pages, which "
                "show the drawing enlarged."
            )
        )


def _shopping(writer: _Writer) -> None:
    lists = writer.lists
    plan, words = lists.plan, lists.words
    board = plan.board
    writer.heading(words.say("To have ready"))
    # as the plan tells it: rounded to whole millimetres a board may come out too small
    size = [words.length(v) for v in (board.width_mm, board.height_mm)]
    writer.item(
        words.count(
            "{n} board of {material}, {width} x {height}, {thickness} thick",
            "{n} boards of {material}, {width} x {height}, {thickness} thick",
            board.stack, material=material_text(board.material, words),
            width=size[0], height=size[1], thickness=length_text(board.thickness_mm, words),
        )
    )  # fmt: skip
    writer.item(
        words.count(
            "{n} blade No. {number}", "{n} blades No. {number}",
            plan.blade.blades_needed, number=plan.blade.number,
        )
    )  # fmt: skip
    spirals = sum(c.blade == "spiral" for c in plan.cuts)
    if spirals:
        writer.item(
            words.count("spiral blade for {n} cut, and a spare",
                        "spiral blade for {n} cuts, and a spare", spirals)
        )  # fmt: skip
    if any(c.blade in ("left", "right") for c in plan.cuts):
        writer.item(words.say("the key for clamps that turn the blade by 90 degrees"))
    rounds = drill_rounds(plan.drilled)
    names = dict.fromkeys(drill_text(r.drill_name, r.drill_mm, words) for r in rounds)
    if names:
        writer.item(words.say("drills: {names}", names=", ".join(names)))
    if plan.to_size:
        writer.item(words.say("clamps and a backing board for what is drilled to size"))
    writer.item(words.say("glue for paper that comes off again"))
    small = sum(c.side == "outside" and not c.hold_mm for c in plan.cuts)
    if small:
        writer.item(
            words.count(
                "clear tape over the line of {n} piece too small to hold",
                "clear tape over the lines of {n} pieces too small to hold", small,
            )
        )  # fmt: skip
    if board.stack > 1:
        if plan.fasteners_mm:
            writer.item(
                words.count(
                    "{n} pin or screw for the stack, at the marked place",
                    "{n} pins or screws for the stack, at the marked places",
                    len(plan.fasteners_mm),
                )
            )
        else:
            writer.item(words.say("double-sided tape to hold the stack"))
    writer.item(
        words.count(
            "{n} sheet of paper with the drawing ({paper})",
            "{n} sheets of paper with the drawing ({paper})",
            len(lists.layout.tiles), paper=lists.layout.paper.name,
        )
    )  # fmt: skip


def _drills(writer: _Writer) -> None:
    lists = writer.lists
    words = lists.words
    rounds = drill_rounds(lists.plan.drilled)
    none = sorted(hole.number for hole in lists.plan.holes if hole.drill_mm <= 0.0)
    if not rounds and not none:
        return
    writer.heading(words.say("Drills"))
    for one in rounds:
        numbers, drill = sorted(one.numbers), drill_text(one.drill_name, one.drill_mm, words)
        if one.to_size:
            text = words.count(
                "{drill}, clamped, {n} hole to size: {numbers}",
                "{drill}, clamped, {n} holes to size: {numbers}",
                len(numbers), drill=drill, numbers=runs(numbers),
            )  # fmt: skip
        else:
            text = words.count(
                "{drill}, {n} hole: {numbers}", "{drill}, {n} holes: {numbers}",
                len(numbers), drill=drill, numbers=runs(numbers),
            )  # fmt: skip
        writer.item(text)
    if lists.plan.to_size:
        writer.paragraph(
            words.say(
                "What is drilled to size is neither threaded nor sawn. A larger bit catches as it "
                "breaks through: clamp board and backing, and follow the drill's manual."
            )
        )
    if none:
        writer.paragraph(
            words.count("No drill fits hole {numbers}.", "No drill fits holes {numbers}.",
                        len(none), numbers=runs(none))
        )  # fmt: skip


def _legend(writer: _Writer) -> None:
    """The marks with their meaning, only those that occur."""
    words, scene, sheets = writer.lists.words, writer.lists.scene, writer.sheets
    used = {line.role for line in scene.lines}
    at = (0.0, 0.0)
    shapes = [
        ("corner", (((-1.0, 1.2), (-1.0, -1.0), (1.2, -1.0)),), words.say("the board's corner")),
        ("trim", (((-1.5, 0.0), (1.5, 0.0)),), words.say("trim the board here first")),
        ("hole-cross", (*marks.cross(at, 0.6), marks.ring(at, 0.6)), words.say("hole")),
        ("to-size", (*marks.cross(at, 0.6), marks.ring(at, 0.6), marks.ring(at, 1.1)),
         words.say("drill to size")),
        ("start", (((0.0, -1.1), (0.0, 1.1)),), words.say("start and end")),
        ("arrow", (((-2.0, 0.0), (2.0, 0.0)), ((0.9, -0.6), (2.0, 0.0), (0.9, 0.6))),
         words.say("travel")),
        ("meet", (((-0.4, -1.1), (-0.4, 1.1)), ((0.4, -1.1), (0.4, 1.1))),
         words.say("the two runs meet")),
        ("turn-spin", marks.TURN_SHAPES["spin"](at, 1.2), words.say("spin on the spot")),
        ("turn-back-out", marks.TURN_SHAPES["back-out"](at, 1.2), words.say("back out")),
        ("turn-loop", marks.TURN_SHAPES["loop"](at, 1.2), words.say("loop through the waste")),
        ("neck", marks.pinch(at, 0.4, (1.0, 0.0)), words.say("thin place: mind it")),
        ("hold", marks.brackets(at, 0.6), words.say("hold here at the end of the cut")),
        ("fastener", marks.screw(at), words.say("pin or screw")),
    ]  # fmt: skip
    shown = [s for s in shapes if s[0] in used]
    writer.heading(words.say("Marks"))
    per_row = 3
    writer.y += 1.0
    for i, (role, lines, text) in enumerate(shown):
        if i % per_row == 0:
            writer.room(5.5)
            writer.y += 5.5
        x = writer.left + (i % per_row) * writer.width / per_row + 3.0
        y = writer.y - 1.0
        sheets.pen(PENS[role])  # type: ignore[index]
        sheets.lines([tuple((x + px, y + py) for px, py in points) for points in lines])
        sheets.text((x + 4.5, writer.y), text, TEXT_MM)
    writer.y += 2.0
    named = {name.role for name in scene.names}
    if "piece" in named:
        writer.paragraph(words.say("P1, P2: the pieces by their numbers."))
    if "hold" in named:
        writer.paragraph(
            words.say("A number beside a holding place is that of the cut at whose end it is held.")
        )
    writer.paragraph(
        words.say("Striped is waste, plain is kept. The blade runs on the waste side of the line.")
    )


def _notes(writer: _Writer) -> None:
    """Findings that matter at the saw, by the letters that they have on the drawing.

    A sentence that several places share is written once, with their letters before it;
    what is a place's own (its measure) stays with its letter. Where a letter is not on the
    drawing its place is told.
    """
    lists = writer.lists
    notes, words = notes_of(lists.plan), lists.words
    drawn = {note.letter for note in lists.scene.notes} - set(lists.unplaced)
    placed = " ".join(note.text for note in notes)
    loose = [
        f"{f.text} {f.remedy}".strip()
        for f in lists.plan.findings
        if f.severity != "note" and f.text not in placed
    ]
    if not loose and not notes:
        return
    writer.heading(words.say("Places to mind"))
    if stop := stops_text(lists.plan.findings, words):
        writer.paragraph(stop, bold=True)
    told = alike((i, s) for i, note in enumerate(notes) for s in sentences(note.text))
    for i, note in enumerate(notes):
        own = [text for text, places in told.items() if places == [i]]
        if note.letter not in drawn:
            x, y = (f"{v:.1f}" for v in note.at_mm)
            own.insert(0, words.say("At {x}, {y} mm.", x=x, y=y))
        if own:
            writer.paragraph(f"{note.letter}: {' '.join(own)}")
    if len(drawn) < len(notes):
        writer.paragraph(
            words.say(
                "Places that are told in figures have no letter on the drawing; they count from "
                "the board's top left corner, right and down."
            )
        )
    for text, places in told.items():
        if len(places) > 1:
            writer.paragraph(f"{runs(places, letter)}: {text}")
    remedies = alike((i, r) for i, note in enumerate(notes) for r in note.remedies)
    if remedies:
        writer.y += 1.5
    for text, places in remedies.items():
        writer.paragraph(f"{runs(places, letter)}: {text}", indent=4.0)
    for text in dict.fromkeys(loose):
        writer.paragraph(text)


def _cuts(writer: _Writer) -> None:
    """The table of cuts."""
    words, plan = writer.lists.words, writer.lists.plan
    columns = (
        Column(words.say("done"), 0.07),
        Column(words.say("cut"), 0.07, "right"),
        Column(words.say("side"), 0.10),
        Column(words.say("hole"), 0.08, "right"),
        Column(words.say("drill"), 0.12),
        Column(words.say("length"), 0.12, "right"),
        Column(words.say("turns"), 0.22),
        Column(words.say("speed"), 0.09),
        Column(words.say("minutes"), 0.13, "right"),
    )
    whole = 8.0 + (len(plan.cuts) + 1) * LINE_MM  # the heading, its row of titles, the cuts
    if whole <= writer.bottom - HEAD_MM - 4.0:  # a table that fits one page is not torn
        writer.room(whole)
    writer.heading(words.say("Cuts in their order"))
    _row(writer, columns, [c.title for c in columns], bold=True)
    drills = {h.number: words.drill(h.drill_name, h.drill_mm) for h in plan.holes if h.drill_mm}
    for cut in plan.cuts:
        if writer.y + LINE_MM > writer.bottom:
            writer.turn()
            _row(writer, columns, [c.title for c in columns], bold=True)
        cells = [
            "",
            str(cut.number),
            words.say("inside") if cut.side == "inside" else words.say("outside"),
            str(cut.hole),
            drills.get(cut.hole, ""),
            length_text(cut.sawn_mm, writer.lists.words),
            turns_text(cut, words),
            words.say("{dial:g} of {of:g}", dial=cut.speed.dial, of=cut.speed.of),
            minutes_text(cut.minutes, words),
        ]
        _row(writer, columns, cells)


def _row(
    writer: _Writer, columns: Sequence[Column], cells: Sequence[str], bold: bool = False
) -> None:
    """One row; a row that is not the head bears a box to tick."""
    sheets = writer.sheets
    writer.y += LINE_MM
    x = writer.left
    for column, cell in zip(columns, cells, strict=True):
        width = column.share * writer.width
        at = x if column.align == "left" else x + width - 3.0
        size = TEXT_MM
        while cell and sheets.text_width(cell, size, bold) > width - 0.5 and size > 1.8:
            size -= 0.2
        sheets.text((at, writer.y), cell, size, column.align, bold)
        x += width
    sheets.pen(RULE)
    sheets.lines([((writer.left, writer.y + 1.2), (writer.right, writer.y + 1.2))])
    if not bold:
        sheets.lines([marks.box(writer.left + 0.5, writer.y - 2.5, 2.8, 2.8)])
