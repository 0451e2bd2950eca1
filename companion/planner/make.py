"""Makes the plan: asks each part of the planner in turn and puts the answers together.

The way: place the pattern on the board; contours as a tree; blade; holes, starts
and directions; order; turns and holding places, which depend on what is already cut
away; steps and minutes. The same input gives the same plan, byte for byte.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely.geometry import LineString
from threadpoolctl import threadpool_limits

from companion.errors import PlanError
from companion.findings import Finding, Point, in_order
from companion.pattern.model import Pattern
from companion.planner import blades as blade_choice
from companion.planner.blades import BladeChosen, Detail
from companion.planner.contours import Rooms, contours
from companion.planner.drilling import drilling_order, holes_of
from companion.planner.fasteners import fasteners
from companion.planner.holding import holding_places, too_small
from companion.planner.holes import fitting_drills
from companion.planner.items import ordered
from companion.planner.linework import Floats, Linework
from companion.planner.numbers import numbered
from companion.planner.order import Placed
from companion.planner.overhang import overhang
from companion.planner.pins import unknown
from companion.planner.plan import ZERO_MINUTES, Blade, Board, Cut, Hole, Neck, Plan, Project
from companion.planner.project import ProjectSpec
from companion.planner.prompts import Work, tape_needed
from companion.planner.reach import Reach, reach_of
from companion.planner.resorts import back_outs_blocked, blade_way, reach_after, trimmed
from companion.planner.rules import Rules, rules_for
from companion.planner.slots import corner_findings
from companion.planner.starts import Entry, Task, enter_all
from companion.planner.steps import make_steps
from companion.planner.timing import (
    NO_CALIBRATION,
    Calibration,
    Features,
    Rates,
    cut_features,
    cut_minutes,
    feed_amount,
    rates_for,
)
from companion.planner.to_size import Fit, could_be, fits, openings_of, or_drilled, sized_holes
from companion.planner.trims import corners_of_board
from companion.planner.turns import Ground, turns_and_loops
from companion.planner.veins import Vein, plan_veins, vein_turns, with_resorts
from companion.planner.weak import WeakResult, weak_places
from companion.shop import tables
from companion.shop.model import BladeSize, Material, Settings
from companion.words import ENGLISH, Words

Progress = Callable[[float, str], None]


class PlanStopped(PlanError):
    """The user asked to stop while the plan was being made."""


@dataclass(frozen=True, slots=True)
class _Watch:
    """Tells how far the work is and asks whether to go on."""

    progress: Progress | None
    should_stop: Callable[[], bool] | None

    def at(self, share: float, doing: str) -> None:
        """Report, and stop if asked to.

        Raises:
            PlanStopped: the user asked for it.
        """
        if self.should_stop is not None and self.should_stop():
            raise PlanStopped("planning was stopped", "", "Start it again when you like.")
        if self.progress is not None:
            self.progress(share, doing)


@dataclass(frozen=True, slots=True)
class _Bench:
    """What every stage asks for."""

    spec: ProjectSpec
    settings: Settings
    material: Material
    board: Board
    rules: Rules
    reach: Reach
    rates: Rates
    words: Words

    @property
    def depth_mm(self) -> float:
        """Wood under the blade."""
        return self.board.thickness_mm * self.board.stack


def plan_project(
    spec: ProjectSpec,
    settings: Settings,
    words: Words = ENGLISH,
    progress: Progress | None = None,
    should_stop: Callable[[], bool] | None = None,
    calibration: Calibration = NO_CALIBRATION,
) -> Plan:
    """Read the project's drawing and plan it.

    Args:
        spec: what is asked.
        settings: the user's.
        words: the language of all sentences.
        progress: told the share done, 0 to 1, and what is being done.
        should_stop: asked between stages.
        calibration: how the sawyer differs from the tables.

    Raises:
        PatternError: the drawing cannot be read.
        ShopError: an unknown material or blade.
        PlanStopped: the user asked for it.
    """
    from companion.pattern.reader import read_pattern

    # an unknown material is told before a long reading
    tables.material(spec.material)
    if progress is not None:
        progress(0.0, words.say("reading the pattern"))
    pattern = read_pattern(spec.pattern, spec.options)
    return make_plan(spec, pattern, settings, words, progress, should_stop, calibration)


def make_plan(
    spec: ProjectSpec,
    pattern: Pattern,
    settings: Settings,
    words: Words = ENGLISH,
    progress: Progress | None = None,
    should_stop: Callable[[], bool] | None = None,
    calibration: Calibration = NO_CALIBRATION,
) -> Plan:
    """Plan a pattern that has been read; see :func:`plan_project`."""
    if not pattern.pieces:
        raise PlanError(
            "there is nothing to cut", str(spec.pattern), "Look at shaded and lines in the project."
        )
    # One thread: the systems are small, and on busy cores threads only wait for each
    # other (the weak places of a panel of 95 openings: 1.4 s alone, 25 s with threads on
    # two busy cores); and sums come out alike on every machine.
    # A hairpin gives a loop without end, which is then refused: no warning for the user.
    with threadpool_limits(limits=1), np.errstate(invalid="ignore", divide="ignore"):
        return _made(spec, pattern, settings, words, _Watch(progress, should_stop), calibration)


def _made(
    spec: ProjectSpec,
    pattern: Pattern,
    settings: Settings,
    words: Words,
    watch: _Watch,
    calibration: Calibration,
) -> Plan:
    """The stages, one after the other."""
    board, shift = place(spec, pattern)
    bench = _Bench(
        spec, settings, tables.material(spec.material), board, rules_for(settings.skill),
        reach_of(settings.saw, board.width_mm, board.height_mm),
        rates_for(settings.skill, calibration), words,
    )  # fmt: skip
    findings = [_told(_moved(f, shift), words) for f in pattern.findings]

    watch.at(0.05, words.say("measuring the lines"))
    every = contours(pattern, shift)
    work = Linework(every)
    rooms = Rooms(every, board.width_mm, board.height_mm)
    lines = [shapely.transform(v, lambda xy: xy + shift) for v in pattern.veins]
    round_ = fits(every, settings.drills, bench.rules, spec.pins, lines)
    drilled = round_ if spec.round_openings == "drill" else ()
    away = frozenset(f.contour for f in drilled)
    chosen = _blade(bench, pattern, work, away)
    findings += chosen.findings

    watch.at(0.1, words.say("looking for weak places"))
    weak = _weak(bench, pattern, chosen.blade, shift, openings_of(drilled, every))
    findings += weak.findings

    entered, notes = _enter(bench, work, rooms, chosen.blade, watch, away)
    findings += notes
    veins, notes = _veins(bench, lines, work, chosen.blade, entered, drilled)
    findings += notes
    sawn = {e.contour: e for e in entered}
    entries = {**sawn, **{v.entry.contour: v.entry for v in veins}}

    doing = words.say("finding the order")
    placed = ordered(
        work, sawn, veins, drilled, (board.width_mm, board.height_mm), words,
        lambda share: watch.at(0.4 + 0.4 * share, doing),
    )  # fmt: skip
    number_of = {p.index: n for n, p in enumerate(placed, 1)}
    to_size = drilling_order(sized_holes(drilled, every, number_of))
    if not drilled:
        findings = or_drilled(findings, round_, words) + could_be(round_, number_of, words)

    watch.at(0.8, words.say("turns and holding places"))
    thin = [n for n in weak.necks if n.thickness_mm < board.thickness_mm]
    left = trimmed(bench.reach, (e.resort for e in entries.values()))
    bench = replace(bench, reach=reach_after(bench.reach, left))
    order = [p.index for p in placed]
    entries, more = with_resorts(entries, len(every), order, bench.reach, words)
    findings += more
    cuts, unheld, loops = _cuts(bench, work, chosen.blade, entries, veins, placed, thin)
    findings += unheld
    taken = [p for c in cuts for p in (c.start_mm, *(t.at_mm for t in c.turns))]
    findings += corner_findings(weak.corners, taken, chosen.blade, words)
    holes = drilling_order(holes_of(entries, order))

    watch.at(0.95, words.say("writing the steps"))
    features = tuple(cut_features(c, board) for c in cuts)
    cuts = tuple(
        replace(c, minutes=cut_minutes(f, bench.rates, tape_needed(c)))
        for c, f in zip(cuts, features, strict=True)
    )
    tops = [c.ring for c in every if c.parent is None]
    pins, taped = fasteners(board, tops, cuts, holes, words, loops, chosen.blade.kerf_mm, left)
    findings += taped
    findings += overhang(board, cuts, settings.saw, words)
    plan = Plan(
        project=Project(spec.name, pattern.sha256),
        board=board,
        blade=_blade_needs(bench, chosen.blade, holes, features),
        pieces=len(pattern.pieces),
        openings=len(pattern.openings),
        kept_area_mm2=pattern.kept_area_mm2,
        findings=in_order(numbered(findings, cuts, to_size)),
        holes=holes,
        cuts=cuts,
        steps=(),
        minutes=ZERO_MINUTES,
        necks=weak.necks,
        fasteners_mm=pins,
        trim_mm=() if left is None else corners_of_board(left),
        common_spread=bench.rates.common_spread,
        to_size=to_size,
    )
    steps, minutes = make_steps(
        Work(
            board, plan.blade, bench.material, cuts, features, holes, len(pins), plan.necks,
            settings, blade_choice.blade_life_min(bench.material), chosen.why, spec.finish,
            {n: r for n, r in enumerate((entries[p.index].resort for p in placed), 1) if r},
            to_size,
        ),
        bench.rates, words,
    )  # fmt: skip
    watch.at(1.0, words.say("done"))
    return replace(plan, steps=steps, minutes=minutes)


# ------------------------------------------------------------------ placing


def place(spec: ProjectSpec, pattern: Pattern) -> tuple[Board, Point]:
    """Put the pattern on the board.

    A side whose size is given has the ink in its middle; else margins are put around.

    Returns:
        The board, and what to add to pattern points to come onto it.
    """
    x0, y0, x1, y1 = pattern.bounds_mm
    width = spec.width_mm or round(x1 - x0 + 2 * spec.margin_mm, 4)
    height = spec.height_mm or round(y1 - y0 + 2 * spec.margin_mm, 4)
    shift = ((width - (x1 - x0)) / 2 - x0, (height - (y1 - y0)) / 2 - y0)
    return Board(spec.material, spec.thickness_mm, spec.stack, width, height), shift


def _moved(finding: Finding, shift: Point) -> Finding:
    if finding.at_mm is None:
        return finding
    return replace(finding, at_mm=(finding.at_mm[0] + shift[0], finding.at_mm[1] + shift[1]))


def _told(finding: Finding, words: Words) -> Finding:
    """A finding of the reader, which knows no language."""
    return replace(finding, text=words.told(finding.text), remedy=words.told(finding.remedy))


def _weak(
    bench: _Bench, pattern: Pattern, blade: BladeSize, shift: Point, drilled: Collection[int]
) -> WeakResult:
    """Weak places, in board mm."""
    found = weak_places(
        pattern, bench.material, bench.board.thickness_mm, blade, stack=bench.board.stack,
        board_mm=(bench.board.width_mm, bench.board.height_mm), place_mm=shift,
        saw=bench.settings.saw, shaded=bench.spec.options.shaded, words=bench.words,
        drilled=drilled,
    )  # fmt: skip
    necks = tuple(
        replace(n, at_mm=(n.at_mm[0] + shift[0], n.at_mm[1] + shift[1])) for n in found.necks
    )
    findings = tuple(_moved(f, shift) for f in found.findings)
    corners = tuple(
        replace(c, at_mm=(c.at_mm[0] + shift[0], c.at_mm[1] + shift[1])) for c in found.corners
    )
    return replace(found, necks=necks, findings=findings, corners=corners)


# -------------------------------------------------------------------- blade


def _blade(
    bench: _Bench, pattern: Pattern, work: Linework, drilled: Collection[int]
) -> BladeChosen:
    widest = [
        float(np.max(s.room_mm))
        for c, s in zip(work.contours, work.samples, strict=True)
        if c.side == "inside" and c.index not in drilled
    ]
    hole = bench.rules.hole
    slender = min(blade_choice.stroke_mm(p.shape.area, p.shape.length) for p in pattern.pieces)
    detail = Detail(min(widest, default=float("inf")), hole.margin_mm, hole.slack_mm, slender)
    return blade_choice.choose_blade(
        bench.material, bench.depth_mm, detail, bench.settings, bench.spec.blade, bench.words
    )


def _blade_needs(
    bench: _Bench, blade: BladeSize, holes: Sequence[Hole], features: Sequence[Features]
) -> Blade:
    cutting_min = [feed_amount(f, bench.rates).seconds / 60.0 for f in features]
    drills = [h.drill_mm for h in holes if h.drill_mm > 0.0]
    return Blade(
        blade.number,
        blade.kerf_mm,
        min(drills, default=0.0),
        blade_choice.blades_needed(cutting_min, bench.material),
    )


# ----------------------------------------------------------- holes and order


def _enter(
    bench: _Bench, work: Linework, rooms: Rooms, blade: BladeSize, watch: _Watch,
    drilled: frozenset[int],
) -> tuple[tuple[Entry, ...], tuple[Finding, ...]]:  # fmt: skip
    """Holes, starts and directions of what is sawn."""
    doing = bench.words.say("placing holes and starts")
    entries, findings = enter_all(
        Task(
            work, rooms, (bench.board.width_mm, bench.board.height_mm), blade,
            bench.settings.drills, bench.rules, bench.board.thickness_mm, bench.reach,
            bench.spec.pins, tables.every_blade(), bench.words, drilled,
        ),
        lambda share: watch.at(0.2 + 0.2 * share, doing),
    )  # fmt: skip
    return entries, (*findings, *unknown(bench.spec.pins, work.contours, bench.words))


def _veins(
    bench: _Bench, lines: Sequence[LineString], work: Linework, blade: BladeSize,
    entries: Sequence[Entry], drilled: Sequence[Fit],
) -> tuple[tuple[Vein, ...], tuple[Finding, ...]]:  # fmt: skip
    """Holes of the lines that free nothing; without a drill they cannot be entered."""
    usable = fitting_drills(blade, bench.settings.drills, bench.rules.hole)
    if not lines or not usable:
        return (), ()
    taken = [(*e.hole_mm, e.drill.diameter_mm / 2) for e in entries if e.drill is not None]
    taken += [(*f.at_mm, f.drill.diameter_mm / 2) for f in drilled]
    return plan_veins(
        lines, work, usable[0], (bench.board.width_mm, bench.board.height_mm), taken,
        bench.rules.hole, blade.kerf_mm, bench.words, bench.reach, bench.board.thickness_mm,
    )  # fmt: skip


# --------------------------------------------------------------------- cuts


def _cuts(
    bench: _Bench,
    work: Linework,
    blade: BladeSize,
    entries: Mapping[int, Entry],
    veins: Sequence[Vein],
    placed: Sequence[Placed],
    thin: Sequence[Neck],
) -> tuple[tuple[Cut, ...], list[Finding], list[Floats]]:
    """The cuts in their order, still without minutes; and the ways of their loops."""
    number_of = {p.index: n for n, p in enumerate(placed, 1)}
    # a loop that keeps clear of every line stays in the waste of its own cut, which
    # is never gone before the cut: nothing else has to be kept clear of
    ground = Ground(bench.board.width_mm, bench.board.height_mm, reach=bench.reach)
    finger = bench.settings.finger_distance_mm
    cuts: list[Cut] = []
    findings: list[Finding] = []
    loops: list[Floats] = []
    for number, place_ in enumerate(placed, 1):
        if place_.index >= len(work.contours):
            vein = veins[place_.index - len(work.contours)]
            vein = replace(vein, entry=entries[place_.index])
            cuts.append(_vein_cut(bench, blade, vein, number, number_of[vein.outline], place_))
            continue
        contour, entry = work.contours[place_.index], entries[place_.index]
        own = [n.at_mm for n in thin if n.piece == contour.piece and contour.side == "outside"]
        hold = holding_places(work, contour, entry, finger, bench.rules, own)
        if not hold and contour.side == "outside":
            findings.append(too_small(contour, finger, bench.words))
        made, ways = turns_and_loops(work, contour, entry, blade, bench.rules, ground)
        way = blade_way(entry.resort)
        if way == "spiral":  # it goes round every corner with the board held still
            made, ways = (), ()
        loops += ways
        inner = sum(work.contours[i].ring.area for i in contour.children)
        cuts.append(
            Cut(
                number=number,
                side=contour.side,
                hole=number if entry.shares is None else number_of[entry.shares],
                length_mm=contour.ring.exterior.length,
                start_mm=entry.start_mm,
                direction=entry.direction,
                line_mm=entry.line_mm,
                speed=blade_choice.speed_for(contour.side, bench.depth_mm, bench.settings),
                turns=made,
                weakness=place_.weakness,
                hold_mm=hold,
                minutes=ZERO_MINUTES,
                piece=contour.piece,
                opening=contour.opening,
                within=None if contour.parent is None else number_of[contour.parent],
                lead_mm=entry.lead_mm,
                clip=tuple(sorted(number_of[i] for i in contour.children if i in number_of)),
                area_mm2=contour.ring.area - inner,
                reason=place_.reason,
                meet_along_mm=entry.meet_along_mm,
                blade=way,
            )
        )
        far = blade.width_mm * bench.rules.turn.chord_widths
        findings += back_outs_blocked(cuts[-1], bench.reach, far, bench.words)
    return tuple(cuts), findings, loops


def _vein_cut(
    bench: _Bench, blade: BladeSize, vein: Vein, number: int, within: int, placed: Placed
) -> Cut:
    entry, rules = vein.entry, bench.rules.turn
    way = blade_way(entry.resort)
    return Cut(
        number=number,
        side="inside",
        hole=number,
        length_mm=LineString(entry.line_mm).length,
        start_mm=entry.start_mm,
        direction=entry.direction,
        line_mm=entry.line_mm,
        speed=blade_choice.speed_for("inside", bench.depth_mm, bench.settings),
        turns=()
        if way == "spiral"
        else vein_turns(entry.line_mm, blade.width_mm * rules.chord_widths, rules.follow_deg),
        weakness=placed.weakness,
        hold_mm=(),
        minutes=ZERO_MINUTES,
        piece=vein.piece,
        within=within,
        lead_mm=entry.lead_mm,
        reason=placed.reason,
        blade=way,
    )
