"""Reads a drawing as it would look on paper, at its true size, into pieces and openings.

The steps, one module each: sniff (what kind of file), tree (XML), walk (what is painted,
in order), layers (regions in mm), paper (dark adds, paper takes away) or hairline (cut
lines), frame (filled areas as waste), mend (specks and slivers), number.
"""

from __future__ import annotations

import hashlib
import math
import stat
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from companion.errors import PatternError
from companion.findings import Point
from companion.pattern.fillrule import as_ring, fill
from companion.pattern.frame import inverted, line_frame
from companion.pattern.hairline import cut_lines
from companion.pattern.layers import Layer, Layers
from companion.pattern.limits import Limits, limits
from companion.pattern.matrix import Matrix, multiply, scale_of
from companion.pattern.mend import mended
from companion.pattern.model import Pattern
from companion.pattern.notes import Notes
from companion.pattern.number import Contact, pieces_of, point_contacts
from companion.pattern.options import ReadOptions
from companion.pattern.overlay import either
from companion.pattern.paint import Effect
from companion.pattern.painted import BLACK_TINT, Painted
from companion.pattern.paper import overlaps_of
from companion.pattern.quote import quoted
from companion.pattern.refusals import nothing_left, refuse_nothing_painted
from companion.pattern.size import ink_box_px, page_matrix
from companion.pattern.sniff import refuse_other_formats, unpack
from companion.pattern.tree import parse_document
from companion.pattern.union import on_grid
from companion.pattern.veil import with_veils
from companion.pattern.walk import Walked, Walker
from companion.pattern.watchdog import Watchdog
from companion.sentence import sentence

MM_PER_PX = 25.4 / 96.0


@dataclass(frozen=True, slots=True)
class _Geometry:
    """What one pass over the shapes gives."""

    region: BaseGeometry
    """Pieces with their openings, before mending."""
    veins: tuple[LineString, ...]
    """Open cut lines."""


def read_pattern(path: Path, options: ReadOptions) -> Pattern:
    """Read an SVG file.

    Args:
        path: the file; svgz too.
        options: how to read it.

    Returns:
        Pieces, openings and veins in mm, with what was mended as findings.

    Raises:
        PatternError: on any input that cannot become a pattern; never another error.
    """
    table = limits()
    name = quoted(path.name, 80)
    try:
        # looked at before it is opened: a pipe or a device would never end
        if not stat.S_ISREG(path.stat().st_mode):
            raise PatternError(
                "the drawing cannot be opened",
                sentence("{name} is a folder, a pipe or a device, not a file", name=name),
                "Name the SVG file itself.",
            )
        with path.open("rb") as file:
            data = file.read(table.file_bytes + 1)
    except (OSError, ValueError) as error:
        why = error.strerror if isinstance(error, OSError) else None
        raise PatternError(
            "the drawing cannot be opened",
            sentence("{path}: {strerror}", path=quoted(str(path), 200), strerror=why or error),
            "Check the name and that you may read it.",
        ) from error
    return read_pattern_text(data, options, name)


def read_pattern_text(
    data: bytes, options: ReadOptions, name: str, table: Limits | None = None
) -> Pattern:
    """Read SVG from bytes.

    Args:
        data: the file's bytes, compressed or not.
        options: how to read it.
        name: how messages name it.
        table: other limits than the shipped ones.

    Raises:
        PatternError: as for read_pattern.
    """
    table = table or limits()
    watchdog = Watchdog(table, name)
    try:
        with watchdog, np.errstate(all="ignore"):
            return _read(data, options, name, table)
    except MemoryError as error:
        raise watchdog.too_much() from error
    except (
        shapely.errors.ShapelyError,
        RecursionError,
        ArithmeticError,
        ValueError,
    ) as error:
        if watchdog.late:
            raise watchdog.too_late() from error
        if "bad_alloc" in str(error):
            raise watchdog.too_much() from error
        raise PatternError(
            "the drawing's outlines cannot be worked out",
            sentence("{name}: {error}", name=name, error=type(error).__name__),
            "Unite and simplify its paths in a drawing program, then save again.",
        ) from error


def _read(data: bytes, options: ReadOptions, name: str, table: Limits) -> Pattern:
    digest = hashlib.sha256(data).hexdigest()
    refuse_other_formats(data, name)
    plain = unpack(data, name, table)
    refuse_other_formats(plain, name)
    document = parse_document(plain, name, table)
    walked = Walker(document, name, table).run()
    notes = Notes(table)
    walked = _all_white(walked, notes)
    refuse_nothing_painted(walked, document, name)
    as_cut = _lines_as_cut(walked, options, table, notes)
    box = ink_box_px(walked, as_cut)
    to_mm = page_matrix(box, walked, options, table, name)
    geometry, to_mm = _at_wanted_width(walked, options, as_cut, to_mm, table, notes, name)
    region = on_grid(mended(geometry.region, table, notes), table.grid_mm)
    pieces = pieces_of(region)
    if not pieces:
        raise nothing_left(walked, as_cut, name)
    _tell_contacts(point_contacts(pieces, table.grid_mm), notes)
    _tell_size(walked, options, region, table, notes)
    _carry_notices(walked, to_mm, notes)
    return Pattern(pieces, geometry.veins, notes.findings(), digest)


def _at_wanted_width(
    walked: Walked,
    options: ReadOptions,
    as_cut: bool,
    to_mm: Matrix,
    table: Limits,
    notes: Notes,
    name: str,
) -> tuple[_Geometry, Matrix]:
    """Geometry at true size; read once more when the wanted width was missed.

    The first scale comes from the boxes of the shapes. Paper on top, clips or a frame
    can make the result narrower or wider, which is seen only afterwards.
    """
    scratch = Notes(table)
    geometry = _geometry(walked, options, as_cut, to_mm, table, scratch, name)
    wanted = options.width_mm
    if wanted is not None and not geometry.region.is_empty:
        x0, _, x1, _ = geometry.region.bounds
        off = wanted / (x1 - x0) if x1 > x0 else 1.0
        if abs(off - 1.0) * wanted > 0.5 * table.grid_mm and options.shaded == "piece":
            to_mm = multiply((off, 0.0, 0.0, off, 0.0, 0.0), to_mm)
            scratch = Notes(table)
            geometry = _geometry(walked, options, as_cut, to_mm, table, scratch, name)
    notes.found += scratch.found
    notes.open_ended |= scratch.open_ended
    return geometry, to_mm


def _geometry(
    walked: Walked,
    options: ReadOptions,
    as_cut: bool,
    to_mm: Matrix,
    table: Limits,
    notes: Notes,
    name: str,
) -> _Geometry:
    maker = Layers(to_mm, table, name)
    painted = walked.painted
    frame: Polygon | None = None
    layers = maker.of(painted, fills_only=as_cut)
    if options.shaded == "waste" and not as_cut:
        found = line_frame(_frame_candidates(maker, painted, table, name), layers)
        if found is not None:
            frame = found[1]
            layers = [layer for layer in layers if layer.shape != found[0]]
    ink = with_veils(layers, table, name, notes)
    _tell_shapes(maker, layers, table, notes)
    veins: tuple[LineString, ...] = ()
    if as_cut:
        lines = [
            line
            for shape in painted
            if shape.stroke is not None and shape.fill is not Effect.INK
            for line in maker.centre_lines(shape)
        ]
        cuts = cut_lines(lines, table, notes, name)
        veins = cuts.veins
        ink = cuts.region if ink.is_empty else _parity(ink, cuts.region, table)
    if options.shaded == "waste" and not ink.is_empty:
        ink = _waste(ink, frame, as_cut, table, notes)
    return _Geometry(ink, veins)


def _parity(ink: BaseGeometry, lines: BaseGeometry, table: Limits) -> BaseGeometry:
    """Outlines of fills and cut lines nest together by depth."""
    return either(ink, lines)


def _waste(
    ink: BaseGeometry, frame: Polygon | None, as_cut: bool, table: Limits, notes: Notes
) -> BaseGeometry:
    if as_cut:
        parts = shapely.get_parts(ink)
        if len(parts) == 1:
            text = "The outermost cut line was taken as the plate's edge."
            notes.add("frame-line", "note", text)
            return ink
    return inverted(ink, frame, table, notes)


def _frame_candidates(
    maker: Layers, painted: tuple[Painted, ...], table: Limits, name: str
) -> list[tuple[int, Polygon]]:
    """Unfilled shapes of one closed line, with what the line encloses."""
    found: list[tuple[int, Polygon]] = []
    for index, shape in enumerate(painted):
        if shape.stroke is None or shape.fill not in (Effect.NOTHING, Effect.VEIL):
            continue
        if len(shape.outline.starts) != 1:
            continue
        points, closed = maker.centre_lines(shape)[0]
        ring = as_ring(points)
        ends_meet = bool(np.hypot(*(points[0] - points[-1])) <= table.join_mm)
        if ring is None or not (closed or ends_meet):
            continue
        region = fill([ring], False, table, name).region
        if isinstance(region, Polygon) and not region.is_empty:
            found.append((index, region))
    return found


# -- how lines are taken ------------------------------------------------------


def _lines_as_cut(walked: Walked, options: ReadOptions, table: Limits, notes: Notes) -> bool:
    """Whether strokes are cut lines; for auto, what was decided is told."""
    stroked = [p for p in walked.painted if p.stroke is not None]
    if not stroked or options.lines == "ink":
        return False
    if options.lines == "cut":
        return True
    filled = any(p.fill is Effect.INK for p in walked.painted)
    box = ink_box_px(walked, True)
    diagonal = math.hypot(box[2] - box[0], box[3] - box[1])
    widths = sorted(
        p.stroke.width * (1.0 if p.stroke.fixed_width else scale_of(p.matrix))
        for p in stroked
        if p.stroke is not None
    )
    width = widths[len(widths) // 2]
    share = width / diagonal if diagonal > 0.0 else 1.0
    thin = share <= table.hairline_ratio
    what = sentence(
        "{width:.2f} mm wide at the drawing's own size, {share:.1%} of its diagonal",
        width=width * MM_PER_PX,
        share=share,
    )
    if thin and not filled:
        text = sentence(
            "The lines ({what}) were taken as cut lines, because they are thin and nothing is "
            "filled.",
            what=what,
        )
        notes.add("lines-as-cut", "note", text, 'Set lines = "ink" if they are wood of that width.')
        return True
    why = sentence("because they are not thin")
    if filled:
        why = sentence("because other shapes are filled")
    text = sentence(
        "The lines ({what}) were taken as ink of their width, {why}.", what=what, why=why
    )
    notes.add("lines-as-ink", "note", text, 'Set lines = "cut" if the saw should follow them.')
    return False


# -- refusals and notes -------------------------------------------------------


def _all_white(walked: Walked, notes: Notes) -> Walked:
    """A drawing in white alone is meant for a dark page: its paint is ink."""
    effects = {p.fill for p in walked.painted}
    effects |= {p.stroke.effect for p in walked.painted if p.stroke is not None}
    white = {Effect.PAPER, *(p.fill for p in walked.painted if _white_veil(p, notes.limits))}
    if Effect.INK in effects or not effects & white:
        return walked
    text = "Everything is painted white; it was read as if it were black."
    notes.add("white-as-ink", "warn", text, "Paint what is wood in a dark colour.")
    painted = tuple(
        replace(
            p,
            fill=Effect.INK if p.fill is Effect.PAPER or _white_veil(p, notes.limits) else p.fill,
            tint=BLACK_TINT if min(p.tint[:3]) >= notes.limits.paper_channel else p.tint,
            stroke=None if p.stroke is None else replace(p.stroke, effect=Effect.INK),
        )
        for p in walked.painted
    )
    return replace(walked, painted=painted)


def _white_veil(shape: Painted, table: Limits) -> bool:
    return shape.fill is Effect.VEIL and min(shape.tint[:3]) >= table.paper_channel


def _tell_shapes(maker: Layers, layers: list[Layer], table: Limits, notes: Notes) -> None:
    """Mends seen while the shapes were made."""
    for crossing in maker.crossings:
        rule = "evenodd" if crossing.even_odd else "nonzero"
        text = sentence(
            "The outline of {label} crosses itself; its fill rule ({rule}) decided.",
            label=crossing.label,
            rule=rule,
        )
        remedy = "Check there that wood and waste are as you mean them."
        notes.add("self-crossing", "note", text, remedy, crossing.at_mm)
    overlaps = overlaps_of(layers, table)
    if len(overlaps) > table.findings_each:
        notes.open_ended |= {"overlap-united", "duplicate-united"}
    for overlap in overlaps:
        if overlap.same:
            text = sentence("{second} is drawn twice; taken once.", second=overlap.second)
            notes.add("duplicate-united", "note", text, "", overlap.at_mm)
        else:
            text = sentence(
                "{first} and {second} overlap by {area_mm2:.2f} mm2; they were united.",
                first=overlap.first,
                second=overlap.second,
                area_mm2=overlap.area_mm2,
            )
            notes.add("overlap-united", "note", text, "", overlap.at_mm)
    if maker.cut_off_at is not None:
        text = sentence(
            "{cut_off_mm2:.1f} mm2 lie beyond the edge of the page and were cut off.",
            cut_off_mm2=maker.cut_off_mm2,
        )
        remedy = "Move the drawing onto the page, or fit the page to the drawing."
        notes.add("page-edge-cut", "warn", text, remedy, maker.cut_off_at)
    for label in maker.off_page:
        text = sentence("{label} lies off the page and was left out.", label=label)
        remedy = "Move it onto the page, or delete it."
        notes.add("off-page-dropped", "warn", text, remedy)


def _tell_contacts(contacts: list[Contact], notes: Notes) -> None:
    for contact in contacts:
        if contact.first != contact.second:
            text = sentence(
                "Pieces {first} and {second} touch in a single point only; they will come apart.",
                first=contact.first,
                second=contact.second,
            )
            remedy = "Let them overlap, or part them."
        else:
            text = sentence(
                "Two outlines of piece {piece} touch in a single point; the wood there has no "
                "width.",
                piece=contact.first,
            )
            remedy = "Move them apart, or make one opening of them."
        notes.add("point-contact", "warn", text, remedy, contact.at_mm, 0.0)


def _tell_size(
    walked: Walked, options: ReadOptions, region: BaseGeometry, table: Limits, notes: Notes
) -> None:
    x0, y0, x1, y1 = region.bounds
    wide, tall = x1 - x0, y1 - y0
    if options.width_mm is not None:
        return
    if walked.page.assumed:
        text = sentence(
            "The true size is a guess: {assumed}. Read at 96 px per inch, the ink is "
            "{wide:.1f} x {tall:.1f} mm.",
            assumed=walked.page.assumed,
            wide=wide,
            tall=tall,
        )
        notes.add(
            "size-assumed", "warn", text,
            "Say the width you want: --width 200mm, or width_mm in project.toml.", None, wide,
        )  # fmt: skip
    elif max(wide, tall) < table.small_ink_mm:
        text = sentence(
            "The ink is only {wide:.1f} x {tall:.1f} mm, the size of an icon.", wide=wide, tall=tall
        )
        notes.add(
            "size-small", "warn", text,
            "Say the width you want: --width 200mm, or width_mm in project.toml.", None, wide,
        )  # fmt: skip


def _carry_notices(walked: Walked, to_mm: Matrix, notes: Notes) -> None:
    a, b, c, d, e, f = to_mm
    for notice in walked.notices:
        at: Point | None = None
        if notice.at_px is not None:
            x, y = notice.at_px
            at = (a * x + c * y + e, b * x + d * y + f)
        notes.add(notice.code, notice.severity, notice.text, notice.remedy, at)
