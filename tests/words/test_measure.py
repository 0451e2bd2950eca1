"""Lengths in the user's unit: shown, printed and spoken alike, and read as people write them."""

from __future__ import annotations

from pathlib import Path

import pytest
from babel.messages.pofile import read_po

from companion.cli.main import main
from companion.errors import UsageError
from companion.planner.plan import plan_from_json
from companion.sentence import counted, sentence
from companion.units import length_mm
from companion.words import Words, words_for
from companion.words.measure import LENGTHS
from companion.words.speakable import speakable
from tests.tools import catalogue

METRIC, INCH = words_for("en"), words_for("en", inch=True)
GERMAN, ZOLL = words_for("de"), words_for("de", inch=True)

SHOWN = [  # sentence, values, metric, inch
    ("{a} mm", {"a": "2.38125"}, "2.38125 mm", "3/32 in"),
    ("{a:g} mm board", {"a": 6.35}, "6.35 mm board", "1/4 in board"),
    ("{a:.2f} mm wide", {"a": 1.0}, "1.00 mm wide", "0.039 in wide"),
    ("{a:.0f} mm back", {"a": 406.4}, "406 mm back", "16.0 in back"),
    ("{a} to {b} mm", {"a": "25.4", "b": "31.75"}, "25.4 to 31.75 mm", "1.0 to 1 1/4 in"),
    ("{w} x {h} mm", {"w": "508", "h": "1270"}, "508 x 1270 mm", "20.0 x 50.0 in"),
    ("at {x}, {y} mm", {"x": "25.4", "y": "50.8"}, "at 25.4, 50.8 mm", "at 1.0, 2.0 in"),
    ("hole {n}, {a} mm", {"n": 7, "a": "25.4"}, "hole 7, 25.4 mm", "hole 7, 1.0 in"),
    ("{a} mm2", {"a": "645.16"}, "645.16 mm2", "1.00 in2"),
    ("{a} mm/min", {"a": "300"}, "300 mm/min", "300 mm/min"),
    ("{a} N", {"a": "4.5"}, "4.5 N", "4.5 N"),
    ("{what} mm", {"what": "some"}, "some mm", "some mm"),
]

SPOKEN = [  # value in mm, decimals, language, inch, shown, spoken
    (2.38125, 1, INCH, "3/32 in", "three thirty-seconds of an inch"),
    (31.75, 1, INCH, "1 1/4 in", "one and one quarter inches"),
    (406.4, 1, INCH, "16.0 in", "sixteen inches"),
    (6.0, 1, INCH, "0.236 in", "zero point two three six inches"),
    (2.5, 1, METRIC, "2.5 mm", "two point five millimetres"),
    (6.0, 1, METRIC, "6.0 mm", "six millimetres"),
    (2.5, 1, GERMAN, "2,5 mm", "zweieinhalb Millimeter"),
    (1.0, 1, GERMAN, "1,0 mm", "ein Millimeter"),
    (2.38125, 1, ZOLL, "3/32 Zoll", "drei Zweiunddreißigstel Zoll"),
    (38.1, 1, ZOLL, "1 1/2 Zoll", "eineinhalb Zoll"),
    (6.0, 1, ZOLL, "0,236 Zoll", "null Komma zwei drei sechs Zoll"),
]


@pytest.mark.parametrize(("text", "values", "metric", "inch"), SHOWN)
def test_a_field_before_mm_is_a_length(
    text: str, values: dict[str, object], metric: str, inch: str
) -> None:
    assert METRIC.say(text, **values) == metric
    assert INCH.say(text, **values) == inch


@pytest.mark.parametrize(("size_mm", "decimals", "words", "shown", "said"), SPOKEN)
def test_shown_and_spoken_agree(
    size_mm: float, decimals: int, words: Words, shown: str, said: str
) -> None:
    assert words.length(size_mm, decimals) == shown
    assert speakable(shown, words.language) == said


def test_a_drill_keeps_the_name_on_its_shank() -> None:
    assert [w.drill("#60", 1.016) for w in (METRIC, INCH, GERMAN, ZOLL)] == ["#60"] * 4
    assert [w.drill("1/16 in", 1.5875) for w in (METRIC, ZOLL)] == ["1/16 in", "1/16 Zoll"]
    assert [w.drill("1.5 mm", 1.5) for w in (INCH, GERMAN)] == ["1.5 mm", "1,5 mm"]
    assert [w.drill("", 1.5875) for w in (METRIC, INCH)] == ["1.59 mm", "1/16 in"]


def test_what_a_layer_without_language_told_is_translated_with_its_values() -> None:
    inner = sentence("not a number: {text!r}", text="1,2,3")
    outer = sentence("{n} turns: {what}", n=2, what=inner)
    assert (outer, GERMAN.told(outer)) == (
        "2 turns: not a number: '1,2,3'", "2 turns: keine Zahl: '1,2,3'",
    )  # fmt: skip
    turns = counted("{n} turn ahead", "{n} turns ahead", 3)
    assert (turns, GERMAN.told(turns)) == ("3 turns ahead", "3 Wenden voraus")
    assert (GERMAN.told(""), GERMAN.told("no {such} sentence")) == ("", "no {such} sentence")
    assert INCH.told(sentence("{wide:.1f} mm wide", wide=25.4)) == "1.0 in wide"


def test_translations_keep_the_lengths_of_their_source() -> None:
    """Else a German inch user would read millimetres where an English one reads inches."""
    with (catalogue.LOCALES / "de" / "LC_MESSAGES" / "kerfside.po").open("rb") as file:
        messages = [m for m in read_po(file, locale="de") if m.id]
    counted_lengths = 0
    for message in messages:
        pairs = zip(catalogue._strings(message.id), catalogue._strings(message.string), strict=True)
        for source, text in pairs:
            found = [[f["fields"] for f in LENGTHS.finditer(t)] for t in (source, text)]
            fields = [sorted(catalogue_fields(x) for x in one) for one in found]
            assert fields[0] == fields[1], text
            counted_lengths += len(fields[0])
    assert counted_lengths > 40


def catalogue_fields(text: str) -> tuple[str, ...]:
    """The fields of a length, in their order."""
    return tuple(part.partition("}")[0] for part in text.split("{")[1:])


def test_every_sentence_of_a_plan_is_in_inches(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("KERFSIDE_HOME", str(tmp_path))
    assert main(["setup", "--units", "inch", "--drills", "#60, 1/16 in"]) == 0
    capsys.readouterr()
    main(["plan", "harbour_sign", "--json", "--thickness", "1/4in"])
    plan = plan_from_json(capsys.readouterr().out)
    told = [t for s in plan.steps for t in (s.title, s.say, s.why)]
    told += [t for f in plan.findings for t in (f.text, f.remedy)]
    assert [t for t in told if " mm" in t] == []
    assert any("#60" in t or "1/16 in" in t for t in told)
    assert any("1/4 in" in t for t in told)


@pytest.mark.parametrize(
    ("text", "value"),
    [("406,4 mm", 406.4), ("406.4", 406.4), ("0,125 Zoll", 3.175), ("1 1/2 Zoll", 38.1),
     ("1/4\"", 6.35), ("20,", 20.0), (",5 mm", 0.5), ("+3cm", 30.0), ("1.234 mm", 1.234)],
)  # fmt: skip
def test_lengths_as_people_write_them(text: str, value: float) -> None:
    assert length_mm(text) == pytest.approx(value, abs=1e-9)


@pytest.mark.parametrize("text", ["1.234,5", "1,234.5 mm", "1,234 mm", "12.345.678", "1,2,3"])
def test_unclear_numbers_are_refused_with_a_remedy(text: str) -> None:
    with pytest.raises(UsageError, match="not clear which number") as refused:
        length_mm(text)
    assert "marks between thousands" in refused.value.remedy
    assert "Tausender ohne Trennzeichen" in GERMAN.error(refused.value)
