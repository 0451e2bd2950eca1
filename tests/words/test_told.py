"""What layers without language tell, in German: the reader's findings, errors, and --help."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from companion.cli.main import VERBS, main
from tests.words.conftest import Missed

ENGLISH_WORDS = re.compile(
    r"\b(the|of|and|is|were|that|with|it|not|its|from|one|this|every|write|read)\b"
)
COMMANDS = re.compile(
    r"\b[a-z]+(?:-[a-z]+)+|kerfside.*|'[^']*'|<[^>]*>|\S+\.(toml|svg|pdf)|--\S+|\([a-z, ]+\)"
)
"""What stays as it is in every language."""
HEAD = '<svg xmlns="http://www.w3.org/2000/svg" width="80mm" height="60mm" viewBox="0 0 80 60">'
SHEET = '<path d="M5 5H75V55H5Z M15 15V25H25V15Z" fill-rule="evenodd"/>'

READ = {  # name: what stands in the drawing beside the sheet, code of the finding
    "open": ('<path d="M30 30H39.95" stroke="#000" stroke-width=".1" fill="none"/>', ""),
    "twice": (SHEET, "duplicate-united"),
    "lap": ('<path d="M60 40H78V50H60Z"/>', "overlap-united"),
    "text": ("<text x='9' y='9'>a</text>", "text-not-read"),
    "image": ('<image width="9" height="9" href="a.png"/>', "image-not-read"),
    "foreign": ("<foreignObject width='9' height='9'/>", "foreign-not-read"),
    "mask": ('<path d="M60 40H70V50Z" mask="url(#m)"/>', "mask-not-read"),
    "filter": ('<path d="M60 40H70V50Z" filter="url(#m)"/>', "filter-not-read"),
    "blend": ('<path d="M60 40H70V50Z" style="mix-blend-mode:multiply"/>', "blend-not-read"),
    "path": ('<path d="M60 40H70V50L nonsense"/>', "path-error"),
    "shape": ('<rect x="9" y="9" width="nine" height="9"/>', "shape-error"),
    "negative": ('<rect x="9" y="9" width="-9" height="9"/>', "shape-error"),
    "points": ('<polygon points="9,9 12,9 12"/>', "shape-error"),
    "transform": ('<path d="M60 40H70V50Z" transform="spin(9)"/>', "transform-ignored"),
    "paint": ('<path d="M60 40H70V50Z" fill="url(#no)"/>', "paint-missing"),
    "use": ('<use href="#no"/>', "use-missing"),
    "abroad": ('<use href="http://example.org/a.svg#b"/>', "external-not-opened"),
    "off": ('<path d="M90 90H95V95Z"/>', "off-page-dropped"),
    "edge": ('<path d="M60 40H95V50H60Z"/>', "page-edge-cut"),
    "cross": ('<path d="M30 30L40 40V30L30 40Z"/>', "self-crossing"),
    "speck": ('<path d="M78 58h.05v.05z"/>', "specks-dropped"),
    "style": ('<style>@import "x.css"; a::before{fill:red} path</style>', "style-not-read"),
    "touch": ('<path d="M75 55H79V59H75Z"/>', "point-contact"),
}
REFUSED = {  # name of the file: its bytes
    "empty.svg": b"",
    "dots.svg": b"\x89PNG\r\n\x1a\n0000",
    "print.svg": b"%PDF-1.7 0000",
    "page.svg": b"<html><body/></html>",
    "broken.svg": HEAD.encode() + b"<path",
    "letters.svg": HEAD.encode() + b"<text>a</text></svg>",
    "picture.svg": HEAD.encode() + b"<image href='a.png'/></svg>",
    "nothing.svg": HEAD.encode() + b"</svg>",
    "lines.svg": HEAD.encode()
    + b"<path d='M9 9L20 20' stroke='#000' fill='none' stroke-width='.1'/></svg>",
    "unsized.svg": b"<svg xmlns='http://www.w3.org/2000/svg' width='0' height='0'><path/></svg>",
    "packed.svg": b"\x1f\x8b\x08 broken",
    "entity.svg": b'<!DOCTYPE svg [<!ENTITY a "aaaa">]><svg>&b;</svg>',
}
ASKED = [  # commands that are refused
    ["plan", "harbour_sign", "--width", "1.234,5"], ["plan", "harbour_sign", "--width", "wide"],
    ["plan", "harbour_sign", "--width", "9 ells"], ["plan", "harbour_sign", "--width", "900m"],
    ["plan", "harbour_sign", "--material", "cheese"], ["plan", "harbour_sign", "--blade", "99"],
    ["plan", "no/such/project"], ["check", "harbour_sign", "-o", "x.svg"],
    ["check", "harbour_sign", "--hold", "much"], ["sheet", "harbour_sign", "--paper", "napkin"],
    ["setup", "--units", "ells"], ["setup", "--drills", "thick"], ["setup", "--skill", "x"],
    ["setup", "--rate", "999"], ["setup", "--language", "xx"], ["setup", "--speech", "loud"],
    ["review", "--cost", "9"], ["practice", "no-such-level", "-o", "x"],
    ["saw", "harbour_sign", "--copies", "0"],
]  # fmt: skip


def english(text: str) -> list[str]:
    """Lines with English in them, commands and names left out."""
    return [x for x in text.splitlines() if ENGLISH_WORDS.search(COMMANDS.sub("", x))]


@pytest.mark.parametrize("name", sorted(READ))
def test_findings_of_the_reader(
    name: str, missed: Missed, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    inside, code = READ[name]
    drawing = tmp_path / "zeichnung.svg"
    drawing.write_text(f"{HEAD}{SHEET}{inside}</svg>", encoding="utf-8")
    main(["check", str(drawing)])
    told = capsys.readouterr()
    assert code in told.out
    assert english(told.out) == []
    assert missed.sentences == set()


@pytest.mark.parametrize("name", sorted(REFUSED))
def test_refused_drawings(
    name: str, missed: Missed, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / name).write_bytes(REFUSED[name])
    assert main(["check", str(tmp_path / name)]) == 2
    told = capsys.readouterr().err
    assert english(told) == []
    assert missed.sentences == set()


@pytest.mark.parametrize("asked", ASKED, ids=" ".join)
def test_refused_commands(
    asked: list[str], missed: Missed, tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    monkeypatch.chdir(tmp_path)
    assert main(asked) == 2
    told = capsys.readouterr().err
    assert told.startswith("kerfside: ")
    assert english(told) == []
    assert missed.sentences == set()


@pytest.mark.parametrize("verb", [*VERBS, ""])
def test_help(verb: str, missed: Missed, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        main([*([verb] if verb else []), "--help"])
    told = capsys.readouterr().out
    assert told.startswith("Aufruf: ")
    assert english(told.partition("\n\n")[2]) == []
    assert missed.sentences == set()


def test_a_wrong_flag_is_told_in_german(missed: Missed, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        main(["plan", "harbour_sign", "--no-such-flag"])
    assert "unbekannt: --no-such-flag" in capsys.readouterr().err


def test_settings_that_cannot_be_read_are_told_in_english(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("KERFSIDE_HOME", str(tmp_path))
    (tmp_path / "settings.toml").write_text("[sawyer]\nlanguage = 7\n", encoding="utf-8")
    assert main(["setup", "--show"]) == 2
    assert "sawyer.language must be text" in capsys.readouterr().err
