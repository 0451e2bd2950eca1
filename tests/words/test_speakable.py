"""What the engine is given: every sign of the prompts spelled out."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.words.speakable import speakable

# Left column of the reading table: signs that speech engines were heard to read wrongly.
ENGLISH = [
    ("2 mm", "two millimetres"),
    ("2mm", "two millimetres"),
    ("1 mm", "one millimetre"),
    ("2.5 mm", "two point five millimetres"),
    ("3/4 inch", "three quarters of an inch"),
    ("3/32 in", "three thirty-seconds of an inch"),
    ('1/8"', "one eighth of an inch"),
    ("1 1/2 in", "one and one half inches"),
    ("2 in", "two inches"),
    ("1 inch", "one inch"),
    ("#2 blade", "number two blade"),
    ("No. 2 blade", "number two blade"),
    ("blade 2/0", "blade two ought"),
    ("step 12/60", "step twelve of sixty"),
    ("2-3", "two to three"),
    ("5–6 min", "five to six minutes"),
    ("Ø3 drill", "diameter three drill"),
    ("Ø1.5 mm", "diameter one point five millimetres"),
    ("3x", "three times"),
    ("45°", "forty-five degrees"),
    ("80 %", "eighty percent"),
    ("4.5 N or 459 g", "four point five newtons or four hundred and fifty-nine grams"),
    ("corner A1", "corner A1"),
    ("Thread the blade at hole 7.", "Thread the blade at hole seven."),
    ("1,000 openings", "one thousand openings"),
    ("in the waste", "in the waste"),
    ("hole 3 in the waste", "hole three in the waste"),
    ("1/4 in board", "one quarter of an inch board"),
    ("0.25 in board", "zero point two five inches board"),
    ("1 1/4 in from the blade", "one and one quarter inches from the blade"),
    ("16.0 in", "sixteen inches"),
    ("2.0 mm", "two millimetres"),
    ("1.00 mm", "one millimetre"),
    ("#60", "number sixty"),
    ("tab\there\x07", "tab here"),
    ("", ""),
]

GERMAN = [
    ("2 mm", "zwei Millimeter"),
    ("2,4 mm", "zwei Komma vier Millimeter"),
    ("1 min", "eine Minute"),
    ("2,5 mm", "zweieinhalb Millimeter"),
    ("1,5 mm", "eineinhalb Millimeter"),
    ("0,5 mm", "null Komma fünf Millimeter"),
    ("2,0 mm", "zwei Millimeter"),
    ("1 1/2 Zoll", "eineinhalb Zoll"),
    ("1/2 Zoll", "ein halber Zoll"),
    ("1/16 Zoll", "ein Sechzehntel Zoll"),
    ("1 1/4 Zoll", "eins und ein Viertel Zoll"),
    ("0,236 Zoll", "null Komma zwei drei sechs Zoll"),
    ("#60", "Nummer sechzig"),
    ("3/32 Zoll", "drei Zweiunddreißigstel Zoll"),
    ("Nr. 3", "Nummer drei"),
    ("Schritt 12/60", "Schritt zwölf von sechzig"),
    ("2-3", "zwei bis drei"),
]


@pytest.mark.parametrize(("text", "said"), ENGLISH)
def test_english(text: str, said: str) -> None:
    assert speakable(text) == said


@pytest.mark.parametrize(("text", "said"), GERMAN)
def test_german(text: str, said: str) -> None:
    assert speakable(text, "de") == said


@given(st.text(max_size=60), st.sampled_from(["en", "de", "xx"]))
def test_any_text_is_one_clean_line(text: str, language: str) -> None:
    said = speakable(text, language)
    assert said == " ".join(said.split())
    assert all(c.isprintable() for c in said)


@given(st.integers(0, 10**6))
def test_no_digit_is_left(number: int) -> None:
    said = speakable(f"cut {number} mm, {number}/60 and {number}")
    assert not any(c.isdigit() for c in said)
