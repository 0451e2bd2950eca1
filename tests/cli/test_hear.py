"""What you will hear: every cue with its meaning, then one prompt; never an error."""

from __future__ import annotations

import json
import sys
from dataclasses import replace
from pathlib import Path

from companion.cli.hear import CUES, hear
from companion.devices.paths import shipped
from companion.shop.settings import default_settings
from companion.words import ENGLISH

FAKE = Path(__file__).parents[1] / "voice" / "fake_helper.py"


def heard(manner: str, log: Path) -> list[str]:
    lines: list[str] = []
    settings = replace(default_settings(), speech_rate_wpm=170)
    command = [sys.executable, str(FAKE), manner, str(log)]
    assert hear(settings, ENGLISH, command, lines.append, lambda _: None) == 0
    return lines


def test_every_cue_that_ships_is_told_and_played_then_a_prompt(tmp_path: Path) -> None:
    assert {name for name, _ in CUES} == {f.stem for f in shipped("sounds").glob("*.wav")}
    log = tmp_path / "log"
    lines = heard("ends", log)
    asked = [json.loads(x) for x in log.read_text().splitlines() if x.startswith("{")]
    assert [m["name"] for m in asked if m["do"] == "cue"] == [name for name, _ in CUES]
    said = [m for m in asked if m["do"] == "say"]
    assert len(said) == 1 and "hole 7" in said[0]["text"]
    assert [m["wpm"] for m in asked if m["do"] == "set"] == [170]
    assert any("muffs" in line for line in lines)
    assert all(any(meaning in line for line in lines) for _, meaning in CUES)


def test_without_an_engine_the_cues_still_play_and_it_is_said(tmp_path: Path) -> None:
    log = tmp_path / "log"
    lines = heard("no-engine", log)
    assert "No speech engine found" in lines[0]
    asked = [json.loads(x) for x in log.read_text().splitlines() if x.startswith("{")]
    assert sum(m["do"] == "cue" for m in asked) == len(CUES)
    assert not any(m["do"] == "say" for m in asked)


def test_a_helper_that_dies_is_told(tmp_path: Path) -> None:
    assert any("switched off" in line for line in heard("exit-1", tmp_path / "log"))
