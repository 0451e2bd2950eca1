"""The paint model: what adds wood, what takes it away, and where that is written."""

from __future__ import annotations

import math

import pytest

from companion.findings import Finding
from companion.pattern.budget import style_budget
from companion.pattern.css import StyleSheet
from companion.pattern.limits import limits
from companion.pattern.model import Pattern
from companion.pattern.options import ReadOptions
from companion.pattern.paint import Effect, Paint, effect_of, parse_paint
from tests.pattern.test_reader import codes, read

INK = ReadOptions(lines="ink")


def find(pattern: Pattern, code: str) -> Finding:
    return next(f for f in pattern.findings if f.code == code)


def area(body: str, options: ReadOptions = INK) -> float:
    return read(body, options).kept_area_mm2


COLOURS = [
    ("black", 1.0, Effect.INK),
    ("#ccc", 1.0, Effect.INK),
    ("#eee", 1.0, Effect.INK),
    ("yellow", 1.0, Effect.INK),
    ("#f5f5f5", 1.0, Effect.PAPER),
    ("white", 1.0, Effect.PAPER),
    ("rgb(100%, 99%, 98%)", 1.0, Effect.PAPER),
    ("hsl(0, 0%, 100%)", 1.0, Effect.PAPER),
    ("white", 0.5, Effect.VEIL),
    ("black", 0.5, Effect.INK),
    ("black", 0.01, Effect.VEIL),
    ("black", 0.0019, Effect.NOTHING),
    ("none", 1.0, Effect.NOTHING),
    ("transparent", 1.0, Effect.NOTHING),
    ("rgba(0,0,0,0)", 1.0, Effect.NOTHING),
]


@pytest.mark.parametrize(("text", "opacity", "effect"), COLOURS)
def test_colours(text: str, opacity: float, effect: Effect) -> None:
    paint = parse_paint(text, "black")
    assert isinstance(paint, Paint)
    assert effect_of(paint, opacity, limits()) is effect


RECT = 'x="10" y="10" width="60" height="60"'

SETTINGS = [
    f'<rect {RECT} fill="#333"/>',
    f'<rect {RECT} style="fill:#333"/>',
    f'<style>rect{{fill:#333}}</style><rect {RECT} fill="none"/>',
    f'<style>.a{{fill:#333}}rect{{fill:none}}</style><rect {RECT} class="b a"/>',
    f'<style>#c{{fill:#333}} .a{{fill:none}}</style><rect {RECT} class="a" id="c"/>',
    f'<style>g > rect{{fill:#333}}</style><g fill="none"><rect {RECT}/></g>',
    f'<style>svg g rect[width="60"]{{fill:#333}}</style><g><rect fill="none" {RECT}/></g>',
    f'<style>rect{{fill:#333 !important}}</style><rect style="fill:none" {RECT}/>',
    f'<style>@media print{{rect{{fill:#333}}}}</style><rect {RECT} fill="none"/>',
    f'<style>circle + rect{{fill:#333}}</style><circle r="0"/><rect fill="none" {RECT}/>',
    f'<g fill="currentColor" color="navy"><rect {RECT}/></g>',
    f'<rect {RECT} fill="currentColor"/>',
    f'<g fill="#333"><rect {RECT} fill="inherit"/></g>',
    f'<rect {RECT} fill="no-such-colour"/>',
    f'<rect {RECT} fill="url(#gone) #333"/>',
    f'<g visibility="hidden"><rect {RECT} visibility="visible"/></g>',
]


@pytest.mark.parametrize("body", SETTINGS)
def test_where_a_fill_may_be_set(body: str) -> None:
    """SVG 2 chapter 6 (styling) and CSS 2.1 chapter 6 (cascade)."""
    assert area(body) == pytest.approx(3600)


def test_specificity_comes_before_order() -> None:
    """Selectors 4, specificity: ids over classes over types."""
    sheet = StyleSheet(["#a{fill:red} .b{fill:blue} rect{fill:lime}"], style_budget(99, "test"))
    rules = sorted(r.weight for found in sheet.index.values() for r in found)
    assert rules == [(0, 0, 1), (0, 1, 0), (1, 0, 0)]


def test_unreadable_selectors_are_named() -> None:
    body = f"<style>rect:nth-of-type(2n+1){{fill:white}}</style><rect {RECT}/>"
    assert "style-not-read" in codes(read(body))


HIDDEN = ['opacity="0"', 'fill-opacity="0"', 'display="none"', 'visibility="hidden"']


@pytest.mark.parametrize("attribute", HIDDEN)
def test_what_does_not_show_is_not_wood(attribute: str) -> None:
    assert area(f'<rect {RECT}/><rect x="80" width="9" height="9" {attribute}/>') == 3600


def test_order_decides() -> None:
    hole = '<rect x="20" y="20" width="10" height="10" fill="white"/>'
    assert area(f"<rect {RECT}/>{hole}") == pytest.approx(3500)
    assert area(f"{hole}<rect {RECT}/>") == pytest.approx(3600)


def test_many_layers_fold_as_if_one_by_one() -> None:
    rings = "".join(
        f'<circle cx="50" cy="50" r="{45 - 5 * i}" fill="{"black" if i % 2 == 0 else "white"}"/>'
        for i in range(9)
    )
    expected = math.pi * sum((-1) ** i * (45 - 5 * i) ** 2 for i in range(9))
    pattern = read(rings)
    assert pattern.kept_area_mm2 == pytest.approx(expected, rel=2e-3)
    assert len(pattern.pieces) == 5
    assert [p.within for p in pattern.pieces] == [None, 1, 2, 3, 4]


def test_white_alone_is_ink_and_said_so() -> None:
    pattern = read(f'<rect {RECT} fill="#fff"/>')
    assert pattern.kept_area_mm2 == pytest.approx(3600)
    assert "white-as-ink" in codes(pattern)


GRADIENT = (
    '<linearGradient id="g"><stop stop-color="{0}"/><stop offset="1" stop-color="{1}"/>'
    '</linearGradient><linearGradient id="h" href="#g"/>'
)


def test_gradients_are_judged_by_their_stops() -> None:
    hole = '<rect x="20" y="20" width="10" height="10" fill="url(#h)"/>'
    dark = read(f"{GRADIENT.format('black', 'white')}<rect {RECT}/>{hole}")
    assert dark.kept_area_mm2 == pytest.approx(3600)
    assert "gradient-as-ink" in codes(dark)
    light = read(f"{GRADIENT.format('white', '#fefefe')}<rect {RECT}/>{hole}")
    assert light.kept_area_mm2 == pytest.approx(3500)


def test_clip_path_cuts() -> None:
    """CSS Masking 1: clipPath, clip-rule and boxes."""
    clip = '<clipPath id="c"><rect x="0" y="0" width="40" height="90"/></clipPath>'
    assert area(f'{clip}<rect {RECT} clip-path="url(#c)"/>') == pytest.approx(30 * 60)
    group = f'{clip}<g clip-path="url(#c)"><rect {RECT}/></g>'
    assert area(group) == pytest.approx(30 * 60)
    box = clip.replace('id="c"', 'id="c" clipPathUnits="objectBoundingBox"')
    box = box.replace('width="40" height="90"', 'width=".5" height="1"')
    assert area(f'{box}<rect {RECT} clip-path="url(#c)"/>') == pytest.approx(30 * 60)


def test_use_symbol_and_nested_svg() -> None:
    """SVG 2 chapter 5: use, symbol, and their viewports."""
    symbol = '<symbol id="s" viewBox="0 0 10 10"><rect width="10" height="10"/></symbol>'
    assert area(f'{symbol}<use href="#s" x="5" width="20" height="20"/>') == pytest.approx(400)
    plain = '<defs><rect id="r" width="9" height="9"/></defs><use xlink:href="#r" x="1" y="1"/>'
    assert area(plain) == pytest.approx(81)
    nested = '<svg x="10" y="10" width="20" height="40" viewBox="0 0 10 10">{}</svg>'
    assert area(nested.format('<rect width="10" height="10"/>')) == pytest.approx(400)
    over = nested.format('<rect x="-50" y="-50" width="99" height="99"/>')
    assert area(over) == pytest.approx(800)
    assert area(over.replace("<svg x", '<svg overflow="visible" x')) > 5000


def test_switch_takes_the_first_that_holds() -> None:
    """SVG 2 chapter 5, conditional processing."""
    body = (
        '<switch><rect width="9" height="9" requiredExtensions="http://example.org/x"/>'
        '<rect width="8" height="8" systemLanguage="fr"/>'
        '<rect width="7" height="7" systemLanguage="en-GB"/><rect width="6" height="6"/></switch>'
    )
    assert area(body) == pytest.approx(49)


NAMED = [
    ('<text x="5" y="9">Oak</text>', "text-not-read"),
    ('<image href="x.png" width="9" height="9"/>', "image-not-read"),
    (f'<rect {RECT} mask="url(#m)"/>', "mask-not-read"),
    (f'<rect {RECT} filter="url(#f)"/>', "filter-not-read"),
    (f'<rect {RECT} style="mix-blend-mode:screen"/>', "blend-not-read"),
    ('<path d="M0 0h9v9z" marker-end="url(#m)"/>', "marker-not-read"),
    ('<path d="M0 0h9v9z" transform="turn(3)"/>', "transform-ignored"),
    ('<use href="other.svg#a"/>', "external-not-opened"),
    ('<use href="#nothing"/>', "use-missing"),
    ('<path d="M0 0h9v9z M5 5 L q"/>', "path-error"),
    ('<rect x="90" y="5" width="40" height="9"/>', "page-edge-cut"),
    ('<rect x="190" y="5" width="40" height="9"/>', "off-page-dropped"),
    ('<pattern id="p"/><rect x="80" width="9" height="9" fill="url(#p)"/>', "pattern-as-ink"),
]


@pytest.mark.parametrize(("body", "code"), NAMED)
def test_what_is_not_read_is_named(body: str, code: str) -> None:
    assert code in codes(read(f"<rect {RECT}/>{body}", INK))


def test_path_error_tells_its_place() -> None:
    pattern = read('<path d="M10 10H60V60L20 X"/>')
    finding = find(pattern, "path-error")
    assert "character 17" in finding.text
    assert finding.at_mm == (60, 60)


def test_mends_tell_place_and_size() -> None:
    twice = f"<rect {RECT}/><rect {RECT}/>"
    assert find(read(twice), "duplicate-united").at_mm is not None
    crossed = read('<path d="M10 10L60 60L60 10L10 60z"/>')
    assert find(crossed, "self-crossing").at_mm == pytest.approx((35, 35))
    specks = read(f'<rect {RECT}/><rect x="80" y="80" width=".2" height=".2"/>')
    assert find(specks, "specks-dropped").size_mm == pytest.approx(0.2257, abs=1e-3)
    sliver = read(
        '<rect x="10" width="20" height="50"/><rect x="30.01" width="20" height="50"/>'
        '<rect y="-5" x="10" width="40" height="6"/>'
        '<rect y="49" x="10" width="40" height="6"/>'
    )
    assert find(sliver, "sliver").size_mm == pytest.approx(0.01, abs=1e-3)
    assert len(sliver.openings) == 0


def test_many_findings_of_a_kind_are_summed_up() -> None:
    body = "".join(f'<text x="5" y="{i}">a</text>' for i in range(40))
    found = [f for f in read(f"<rect {RECT}/>{body}").findings if f.code == "text-not-read"]
    assert len(found) == limits().findings_each + 1
    assert any("28 more" in f.text for f in found)


def test_a_count_that_was_not_finished_is_not_told_as_all() -> None:
    """The search for overlaps ends after so many; there are 39 here."""
    body = "".join(f'<rect x="{i}" y="10" width="1.5" height="50"/>' for i in range(40))
    found = [f for f in read(body).findings if f.code == "overlap-united"]
    assert len(found) == limits().findings_each + 1
    assert [f.text for f in found if f.at_mm is None] == [
        "More of the same kind (overlap-united) were not listed."
    ]


def test_pieces_that_touch_in_a_point_are_told() -> None:
    pattern = read('<path d="M10 10h20v20h-20z"/><path d="M30 30h20v20h-20z"/>')
    assert len(pattern.pieces) == 2
    finding = find(pattern, "point-contact")
    assert (finding.severity, finding.at_mm) == ("warn", (30, 30))


def test_outlines_of_one_piece_that_touch_in_a_point_are_told() -> None:
    """Two openings, corner to corner: one piece, and no wood between them."""
    hole = "M20 20h20v20h-20z"
    pattern = read(f'<path fill-rule="evenodd" d="M10 10h60v60h-60z{hole}M40 40h20v20h-20z"/>')
    assert (len(pattern.pieces), len(pattern.openings)) == (1, 2)
    finding = find(pattern, "point-contact")
    assert (finding.severity, finding.at_mm, finding.size_mm) == ("warn", (40, 40), 0.0)
    apart = read(f'<path fill-rule="evenodd" d="M10 10h60v60h-60z{hole}M41 41h20v20h-20z"/>')
    assert "point-contact" not in {f.code for f in apart.findings}
