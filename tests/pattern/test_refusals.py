"""Every input that cannot become a pattern is refused with what, where and what to do."""

from __future__ import annotations

import gzip
import zlib
from pathlib import Path

import pytest

from companion.errors import PatternError
from companion.pattern.limits import limits
from companion.pattern.options import ReadOptions
from companion.pattern.reader import read_pattern, read_pattern_text
from tests.pattern.test_reader import HEAD, codes, read

SQUARE = '<rect x="10" y="10" width="50" height="50"/>'

FORMATS = [
    (b"\x89PNG\r\n\x1a\n" + bytes(20), "a PNG picture"),
    (b"\xff\xd8\xff\xe0" + bytes(20), "a JPEG picture"),
    (b"GIF89a" + bytes(20), "a GIF picture"),
    (b"%PDF-1.7\n", "a PDF document"),
    (b"%!PS-Adobe-3.0 EPSF", "PostScript"),
    (b"  0\r\nSECTION\r\n  2\r\nHEADER\r\n", "a DXF drawing"),
    (b"PK\x03\x04" + bytes(20), "a ZIP archive"),
    (b"RIFF\x00\x00\x00\x00WEBPVP8 ", "a WebP picture"),
    (b"AC1027" + bytes(20), "a DWG drawing"),
    (b"<!DOCTYPE html><html><body>hello</body></html>", "a web page"),
]


@pytest.mark.parametrize(("data", "kind"), FORMATS)
def test_other_formats_are_named(data: bytes, kind: str) -> None:
    with pytest.raises(PatternError, match="not SVG") as caught:
        read_pattern_text(data, ReadOptions(), "file")
    assert kind in caught.value.cause
    assert caught.value.remedy


BODIES = [
    ("", "empty"),
    ('<image href="a.png" width="9" height="9"/>', "only a picture"),
    ('<text y="20">Hello</text>', "only text"),
    ('<path d="M0 0L50 50" fill="none" stroke="black" stroke-width=".2"/>', "closed"),
    ('<rect width="50" height="50" visibility="hidden"/>', "empty"),
    ('<rect width="50" height="50" opacity="0"/>', "empty"),
    ('<g display="none"><rect width="50" height="50"/></g>', "empty"),
    ('<rect x="200" y="200" width="50" height="50"/>', "nothing in the drawing is left"),
    (SQUARE + '<rect width="100" height="100" fill="white"/>', "nothing in the drawing is left"),
    ('<path d="M0 0L1e400 5L5 5z"/>', "absurd"),
    ('<rect width="1" height="1" transform="scale(1e-9)"/>', "makes no sense"),
    ('<path d="MNaN 0L5 5L0 5z"/>', "empty"),
    # SVG 1.1 chapter 20: a font's glyphs are not drawn; SVG 2 chapter 5: nor are symbols.
    ('<defs><font><glyph unicode="a" d="M0 0h50v50h-50z"/></font></defs>', "a font, not"),
    (f'<symbol id="a">{SQUARE}</symbol>', "a sheet of symbols"),
]


@pytest.mark.parametrize(("body", "title"), BODIES)
def test_drawings_without_a_pattern(body: str, title: str) -> None:
    with pytest.raises(PatternError, match=title) as caught:
        read(body)
    assert caught.value.remedy


@pytest.mark.parametrize(
    "size", ['width="0"', 'width="-5mm" height="9"', 'viewBox="0 0 0 9"', 'height="0mm"']
)
def test_zero_and_negative_sizes(size: str) -> None:
    with pytest.raises(PatternError, match="no size"):
        read(SQUARE, head=f'<svg xmlns="http://www.w3.org/2000/svg" {size}>')


def test_broken_xml_tells_line_and_column() -> None:
    with pytest.raises(PatternError, match="XML is broken") as caught:
        read_pattern_text(b'<svg>\n <rect width="5"\n <g/></svg>', ReadOptions(), "b.svg")
    assert "line 3, column 2" in caught.value.cause


def test_other_xml_is_named() -> None:
    with pytest.raises(PatternError, match="not SVG") as caught:
        read_pattern_text(b"<recipe><salt/></recipe>", ReadOptions(), "r.xml")
    assert "<recipe>" in caught.value.cause


def test_missing_file_and_folder(tmp_path: Path) -> None:
    for path in (tmp_path / "none.svg", tmp_path):
        with pytest.raises(PatternError, match="cannot be opened"):
            read_pattern(path, ReadOptions())


def test_svgz_is_read() -> None:
    data = gzip.compress(f"{HEAD}{SQUARE}</svg>".encode())
    assert read_pattern_text(data, ReadOptions(), "a.svgz").kept_area_mm2 == pytest.approx(2500)


def test_packed_bomb_and_damage_are_refused() -> None:
    packer = zlib.compressobj(9, zlib.DEFLATED, 31)
    bomb = packer.compress(bytes(limits().file_bytes + 10)) + packer.flush()
    assert len(bomb) < 100_000
    with pytest.raises(PatternError, match="too large"):
        read_pattern_text(bomb, ReadOptions(), "bomb.svgz")
    with pytest.raises(PatternError, match="damaged"):
        read_pattern_text(bomb[:500], ReadOptions(), "cut.svgz")


def test_entities_of_the_document_are_expanded() -> None:
    """XML 1.0 section 4.4: drawing programs name their name spaces by entities."""
    text = (
        '<!DOCTYPE svg [<!ENTITY ns "http://www.w3.org/2000/svg"><!ENTITY side "50">]>'
        '<svg xmlns="&ns;" width="90mm" height="90mm" viewBox="0 0 90 90">'
        '<rect width="&side;" height="&side;"/></svg>'
    )
    pattern = read_pattern_text(text.encode(), ReadOptions(), "e.svg")
    assert pattern.kept_area_mm2 == pytest.approx(2500)
    assert "namespace-missing" not in codes(pattern)


def test_entities_that_multiply_are_refused() -> None:
    nested = "".join(f'<!ENTITY e{i + 1} "{f"&e{i};" * 10}">' for i in range(9))
    bomb = f'<!DOCTYPE svg [<!ENTITY e0 "0123456789">{nested}]><svg><title>&e9;</title></svg>'
    long = f'<!DOCTYPE svg [<!ENTITY a "{"x" * 19_000}">]><svg><title>{"&a;" * 5000}</title></svg>'
    for text in (bomb, long):
        with pytest.raises(PatternError, match="unfolds"):
            read_pattern_text(text.encode(), ReadOptions(), "bomb.svg")


def test_nothing_outside_is_opened(tmp_path: Path) -> None:
    secret = tmp_path / "secret.txt"
    secret.write_text("9999")
    text = (
        f'<!DOCTYPE svg SYSTEM "file://{secret}" [<!ENTITY x SYSTEM "file://{secret}">]>'
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 90 90">'
        f'<style>@import url("file://{secret}");</style>'
        f'<use href="{secret}#a"/><script>while(true){{}}</script>'
        '<rect width="50" height="50"/>&x;</svg>'
    )
    pattern = read_pattern_text(text.encode(), ReadOptions(width_mm=50), "x.svg")
    assert pattern.kept_area_mm2 == pytest.approx(2500)
    assert "external-not-opened" in codes(pattern)


def test_limits_are_told() -> None:
    most = limits()
    deep = "<g>" * (most.depth + 5) + SQUARE + "</g>" * (most.depth + 5)
    with pytest.raises(PatternError, match="nested too deep"):
        read(deep)
    with pytest.raises(PatternError, match="too many elements"):
        read("<g/>" * (most.elements + 1))


def test_use_that_multiplies_is_stopped() -> None:
    levels = "".join(f'<g id="l{i + 1}">{f"""<use href="#l{i}"/>""" * 10}</g>' for i in range(12))
    body = f'<defs><rect id="l0" width="5" height="5"/>{levels}</defs><use href="#l12"/>'
    with pytest.raises(PatternError, match="too many"):
        read(body)


def test_use_in_a_circle_is_left_out() -> None:
    pattern = read(f'<g id="a">{SQUARE}<use href="#b"/></g><g id="b"><use href="#a"/></g>')
    assert pattern.kept_area_mm2 == pytest.approx(2500)
    assert "use-circular" in codes(pattern)


def test_tangled_outlines_are_refused_before_they_grow() -> None:
    teeth = [f"L0 {i / 10}L90 {i / 10}L90 {i / 10 + 0.05}L0 {i / 10 + 0.05}" for i in range(900)]
    comb = "M-5 0" + "".join(teeth) + "L-5 90z"
    body = f'<path d="{comb}"/><path d="{comb}" transform="matrix(0 1 1 0 0 0)"/>'
    with pytest.raises(PatternError, match="too tangled"):
        read(body, ReadOptions(width_mm=9000))
