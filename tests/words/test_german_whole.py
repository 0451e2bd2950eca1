"""In German nothing a project shows is English: plan, findings and sheet of real projects."""

from __future__ import annotations

import re
import subprocess
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest
from babel.messages.pofile import read_po

from companion.cli.check import _summary
from companion.cli.listing import finding_lines, origin_text
from companion.cli.plan import plan_lines
from companion.devices.paths import shipped
from companion.draw.sheet import make_sheet
from companion.planner.make import plan_project
from companion.planner.plan import Plan
from companion.planner.project import load_project
from companion.shop.settings import default_settings
from companion.words import ENGLISH, Words, words_for
from companion.words.catalogue import LOCALES

DEMOS = ("harbour_sign", "quay_number")
LEAST = 12
"""Shorter stretches of a sentence are words that both languages have."""


@cache
def english() -> tuple[str, ...]:
    """Every stretch of the catalogue's English sentences that German does not share."""
    with (LOCALES / "de" / "LC_MESSAGES" / "kerfside.po").open("rb") as file:
        messages = [m for m in read_po(file, locale="de") if m.id]
    own, german = set(), []
    for message in messages:
        ids, told = (
            t if isinstance(t, str) else " ".join(t or ()) for t in (message.id, message.string)
        )
        german.append(told)
        own |= {s.strip() for s in re.split(r"{[^{}]*}|\n", ids)}
    whole = " ".join(german)
    return tuple(s for s in own if len(s) >= LEAST and " " in s and s not in whole)


def shown(plan: Plan, words: Words, tmp: Path) -> str:
    """All that plan, check and sheet tell, as one line."""
    settings = replace(default_settings(), language=words.language)
    lines = [*plan_lines(plan, words, settings, steps=True), *finding_lines(plan.findings, words)]
    lines += [_summary(plan, words), origin_text(words)]
    pdf = tmp / "sheet.pdf"
    pdf.write_bytes(make_sheet(plan, words=words).pdf)
    told = subprocess.run(["pdftotext", str(pdf), "-"], capture_output=True, text=True, check=True)
    return " ".join([*lines, told.stdout]).replace("\n", " ")


@pytest.mark.parametrize("demo", DEMOS)
def test_a_german_project_tells_no_english_sentence(demo: str, tmp_path: Path) -> None:
    # a stack of hard wood: blades wear out, clamps are checked, boards are parted
    spec = load_project(shipped("demo_projects") / demo)
    spec = replace(spec, stack=2, material="sugar-maple", thickness_mm=12.0)
    german = words_for("de")
    settings = replace(default_settings(), language="de")
    plan = plan_project(spec, settings, german)
    assert {"blade", "drill", "free", "finish"} <= {s.stage for s in plan.steps}
    text = shown(plan, german, tmp_path)
    assert [s for s in english() if s in text] == []
    assert not re.search(r"\(\d+\.\d, ", text), "a place with decimal points"
    assert re.search(r"\(\d+,\d; \d+,\d\)", text)
    # the search finds English where it is
    in_english = plan_project(spec, default_settings())
    text = shown(in_english, ENGLISH, tmp_path)
    assert len([s for s in english() if s in text]) > 40
