"""Files that are no drawing, or would do harm, are refused at once and with a remedy.

Most are read through the file system, as a sawyer's would be. How long and how much at
most: ``test_bounds``; what ends it all the same: ``test_watchdog``.
"""

from __future__ import annotations

import os
import subprocess
import sys
import time
import zlib
from collections.abc import Callable
from pathlib import Path

import pytest

from companion.errors import PatternError
from companion.pattern.model import Pattern
from companion.pattern.options import ReadOptions
from companion.pattern.reader import read_pattern, read_pattern_text
from tests.pattern.test_reader import codes

HEAD = '<svg xmlns="http://www.w3.org/2000/svg" width="90mm" height="90mm" viewBox="0 0 90 90">'
GOOD = f'{HEAD}<rect id="ä" width="50" height="50"/></svg>'
XML = '<?xml version="1.0" encoding="{}"?>'


def read(data: bytes) -> Pattern:
    start = time.process_time()
    try:
        return read_pattern_text(data, ReadOptions(), "x.svg")
    finally:
        assert time.process_time() - start < 10.0


READABLE = {
    "utf-8 with mark": b"\xef\xbb\xbf" + GOOD.encode(),
    "utf-16 little": GOOD.encode("utf-16"),
    "utf-16 big": b"\xfe\xff" + GOOD.encode("utf-16-be"),
    "utf-16 declared": (XML.format("UTF-16") + GOOD).encode("utf-16"),
    "latin-1 declared": (XML.format("ISO-8859-1") + GOOD).encode("latin-1"),
    "windows-1252 declared": (XML.format("windows-1252") + GOOD).encode("cp1252"),
    "line ends of windows": GOOD.replace(">", ">\r\n").encode(),
    "line ends of old macs": GOOD.replace(">", ">\r").encode(),
    "blanks in front": b"\r\n\t " + GOOD.encode(),
    "a comment in front": b"<!-- " + b"x" * 5000 + b" -->" + GOOD.encode(),
}


@pytest.mark.parametrize("data", READABLE.values(), ids=READABLE)
def test_the_same_drawing_in_other_letters(data: bytes) -> None:
    """XML 1.0 section 4.3.3 and appendix F; the encodings drawing programs write."""
    assert read(data).kept_area_mm2 == pytest.approx(2500)


UNREADABLE = {
    "utf-32": (GOOD.encode("utf-32"), "UTF-32"),
    "utf-32 without mark": (GOOD.encode("utf-32-be"), "UTF-32"),
    "latin-1 not declared": (GOOD.encode("latin-1"), "line 1, column"),
    "an encoding nobody knows": ((XML.format("klingon") + GOOD).encode(), "x.svg"),
    "an encoding of many bytes": ((XML.format("shift_jis") + GOOD).encode("shift_jis", "replace"),
                                  "x.svg"),
    "nul inside": (GOOD.replace("50", "5\0").encode(), "line 1, column"),
    "nul only": (bytes(100_000), "no bytes to read"),
    "cut off": (GOOD[:-9].encode(), "line 1, column"),
    "json": (b'{"type": "drawing", "paths": []}', "does not begin with '<'"),
    "csv": (b"x;y\n1;2\n", "does not begin with '<'"),
    "a program": (b"\x7fELF\x02\x01\x01" + bytes(50), "a program"),
    "a web page": (b"<!doctype HTML>\n<html><p>hello", "a web page"),
    "noise": (bytes(range(1, 256)) * 40, "does not begin with '<'"),
}  # fmt: skip


@pytest.mark.parametrize(("data", "says"), UNREADABLE.values(), ids=UNREADABLE)
def test_what_is_no_drawing_is_named(data: bytes, says: str) -> None:
    with pytest.raises(PatternError) as caught:
        read(data)
    assert says in caught.value.cause
    assert caught.value.remedy


def packed(plain_mib: int, times: int) -> bytes:
    """Zeros, packed so many times over."""
    data = bytes(plain_mib * 2**20)
    for _ in range(times):
        packer = zlib.compressobj(9, zlib.DEFLATED, 31)
        data = packer.compress(data) + packer.flush()
    return data


def blown_up() -> bytes:
    return packed(200, 1)


def blown_up_twice() -> bytes:
    return packed(64, 2)


def nested() -> bytes:
    return f"{HEAD}{'<g>' * 200_000}".encode()


def one_path_of_10_mb() -> bytes:
    steps = "".join(f"l{i % 7}.{i} 0.{i}h-9" for i in range(700_000))
    return f'{HEAD}<path d="M0 0{steps}"/></svg>'.encode()


def one_number_of_10_mb() -> bytes:
    return f'{HEAD}<path d="M0 0L{"1" * 10_000_000} 5L5 5z"/></svg>'.encode()


def many_entities() -> bytes:
    doubled = "".join(f'<!ENTITY e{i} "&e{i - 1};&e{i - 1};">' for i in range(1, 64))
    declared = f'<!ENTITY e0 "x">{doubled}'
    return f"<!DOCTYPE svg [{declared}]>{HEAD}<desc>&e63;</desc></svg>".encode()


def parameter_entities() -> bytes:
    parts = "<!ENTITY % a \"<!ENTITY b 'ha'>\"> %a; " * 20
    return f"<!DOCTYPE svg [{parts}]>{HEAD}&b;</svg>".encode()


def attributes() -> bytes:
    many = " ".join(f'a{i}="{i}"' for i in range(200_000))
    return f"{HEAD}<g {many}/></svg>".encode()


HARMFUL: list[Callable[[], bytes]] = [
    blown_up,
    blown_up_twice,
    nested,
    one_path_of_10_mb,
    one_number_of_10_mb,
    many_entities,
    parameter_entities,
    attributes,
]


@pytest.mark.parametrize("make", HARMFUL, ids=lambda f: f.__name__)
def test_harmful_files_are_refused_in_time(make: Callable[[], bytes]) -> None:
    data = make()
    with pytest.raises(PatternError) as caught:
        read(data)
    assert caught.value.remedy
    assert "takes too long" not in caught.value.title
    assert len(str(caught.value)) < 400


def test_a_transform_without_end_is_ignored_and_told() -> None:
    data = GOOD.replace("<rect", f'<rect transform="{"scale(" * 300_000}"').encode()
    assert "transform-ignored" in codes(read(data))


BEYOND = [
    '<path d="M10 10a9 9 1e390 0 1 20 20V60z"/>',
    '<path d="M10 10a1e390 9 0 0 1 20 20V60z"/>',
    '<rect width="9" height="9" transform="rotate(1e390)"/>',
    '<rect width="9" height="9" transform="skewX(1e390)"/>',
    '<rect width="9" height="9" transform="translate(1e390)"/>',
    '<path d="M9 9H80" stroke="#000" stroke-dasharray="3" stroke-dashoffset="1e308in"/>',
    '<path d="M9 9H80" stroke="#000" stroke-dasharray="1e308in 1e308in"/>',
    '<path d="M9 9H80" stroke="#000" stroke-width="1e308in"/>',
    '<circle r="1e308in"/>',
    '<rect width="1e307in" height="1e307in" x="-1e308in"/>',
    '<svg x="1e308in" width="9" height="9" viewBox="0 0 1e-308 1"><rect width="9"/></svg>',
    '<g font-size="1e308"><rect width="9em" height="9ex"/></g>',
]
"""Past the largest number; the first was found by the fuzzer."""


@pytest.mark.parametrize("body", BEYOND)
def test_numbers_past_the_largest_are_read_over_or_refused(body: str) -> None:
    data = GOOD.replace("</svg>", f"{body}</svg>").encode()
    try:
        assert read(data).kept_area_mm2 >= 2500 - 1e-6
    except PatternError as error:
        assert "cannot be worked out" not in error.title
        assert error.remedy


def test_a_huge_picture_inside_does_not_hinder() -> None:
    """A data URI of 8 MB is passed over, as every picture is."""
    picture = f'<image href="data:image/png;base64,{"A" * 8_000_000}" width="9" height="9"/>'
    used = f'<use href="data:image/svg+xml;base64,{"A" * 8_000_000}"/>'
    pattern = read(GOOD.replace("</svg>", f"{picture}{used}</svg>").encode())
    assert pattern.kept_area_mm2 == pytest.approx(2500)
    assert {"image-not-read", "external-not-opened"} <= codes(pattern)
    assert max(len(f.text) for f in pattern.findings) < 300


def test_names_in_a_drawing_give_the_terminal_no_orders() -> None:
    """An id may hold the C1 control CSI and line ends, written as character references."""
    ident = "a&#155;2J&#10;&#8238;" + "b" * 5000
    text = GOOD.replace("</svg>", f'<text id="{ident}" y="9">x</text></svg>')
    told = [f.text for f in read(text.encode()).findings if f.code == "text-not-read"]
    assert len(told) == 1
    assert told[0].isprintable()
    assert len(told[0]) < 200


@pytest.mark.skipif(sys.platform == "win32", reason="pipes and devices of POSIX")
@pytest.mark.parametrize("kind", ["pipe", "folder", "/dev/zero", "loop", "nothing", "a\0b"])
def test_what_is_no_file_is_never_opened(tmp_path: Path, kind: str) -> None:
    path = tmp_path / "x.svg"
    if kind == "pipe":
        os.mkfifo(path)
    elif kind == "folder":
        path.mkdir()
    elif kind == "loop":
        path.symlink_to(path)
    elif kind != "nothing":
        path = Path(kind)
    with pytest.raises(PatternError, match="cannot be opened") as caught:
        read_pattern(path, ReadOptions())
    assert caught.value.remedy


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may read all")
def test_a_file_that_may_not_be_read(tmp_path: Path) -> None:
    path = tmp_path / "x.svg"
    path.write_text(GOOD, "utf-8")
    path.chmod(0)
    with pytest.raises(PatternError, match="cannot be opened"):
        read_pattern(path, ReadOptions())


def test_a_growing_or_endless_file_is_read_no_further_than_the_limit(tmp_path: Path) -> None:
    """Sparse, 8 GiB: told to be too large without being read to its end."""
    path = tmp_path / "x.svg"
    path.write_bytes(b"<svg>")
    os.truncate(path, 8 * 2**30)
    with pytest.raises(PatternError, match="too large"):
        read_pattern(path, ReadOptions())


@pytest.mark.skipif(sys.platform != "linux", reason="file names of any bytes")
def test_a_name_of_odd_bytes_is_one_clear_message(tmp_path: Path) -> None:
    """From the command line to standard error, a name that is no UTF-8 and orders a terminal."""
    path = os.fsencode(tmp_path) + b"/\xff\x1b[2J\n.svg"
    with open(path, "wb") as file:
        file.write(b"{}")
    done = subprocess.run(
        [sys.executable, "-m", "companion", "check", path], capture_output=True, timeout=100
    )
    assert done.returncode == 2
    assert done.stderr.count(b"\n") == 1
    assert b"\x1b" not in done.stderr
    assert b"does not begin with '<'" in done.stderr
