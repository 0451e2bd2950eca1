"""``kerfside setup``: by flags, by questions, and what was learned of a pedal."""

from __future__ import annotations

from pathlib import Path

import pytest

from companion.cli.main import main
from companion.cli.setup import QUESTIONS, ask, bar, with_pedal
from companion.devices.pedal_profile import learn
from companion.shop.settings import default_settings, load_settings
from companion.words import ENGLISH


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("KERFSIDE_HOME", str(tmp_path))
    return tmp_path


def _settings_file(home: Path) -> Path:
    return next(home.rglob("settings.toml"))


def test_flags_are_kept_and_shown(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    flags = ["--throat", "16in", "--distance", "1.5m", "--bar", "45mm", "--skill", "prac",
             "--drills", "1.0 mm, #60", "--colours", "light", "--done-key", "f14"]  # fmt: skip
    assert main(["setup", *flags]) == 0
    kept = load_settings(_settings_file(home))
    assert kept.saw.throat_mm == pytest.approx(406.4)
    assert (kept.distance_mm, kept.cell_height_mm) == (1500.0, 4.5)
    assert (kept.skill, kept.theme, kept.pedal_done_key) == ("practised", "light", "f14")
    assert [d.name for d in kept.drills] == ["1.0 mm", "#60"]
    # 7 dots of 2.25 mm seen from 1.5 m: 2 atan(15.75 / 3000) = 36.1 arc minutes
    assert "36 arc minutes" in capsys.readouterr().out


def test_a_flag_for_the_present_value_asks_nothing(home: Path) -> None:
    assert main(["setup", "--skill", default_settings().skill]) == 0


@pytest.mark.parametrize(
    "flags",
    [["--throat", "wide"], ["--skill", "expert"], ["--dial", "x"], ["--drills", "#999"],
     ["--colours", "blue"], ["--throat", "1mm"], []],
)  # fmt: skip
def test_what_will_not_do_is_told_and_nothing_is_kept(
    flags: list[str], home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["setup", *flags]) == 2
    assert capsys.readouterr().err.startswith("kerfside: ")
    assert not list(home.rglob("settings.toml"))


def test_a_key_of_the_terminal_is_warned_of(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["setup", "--pedal-key", "f11"]) == 0
    assert "f11 switches many terminals to full screen" in capsys.readouterr().out


def test_questions_are_asked_again_until_the_answer_will_do() -> None:
    answers = {
        "capacity": ["wide", "60mm"], "skill": ["terse"], "distance": ["2m"], "bar": ["50mm"],
        "colours": ["light"], "sawyer": ["Ada"], "language": ["en"], "speech": ["off"],
        "rate": ["90", "165"],
    }  # fmt: skip
    asked: list[str] = []

    def answer(question: str) -> str:
        asked.append(question)
        flag = next(q.flag for q in QUESTIONS if question.startswith(q.ask.partition("{")[0]))
        return answers[flag].pop(0) if answers.get(flag) else ""

    found = ask(default_settings(), ENGLISH, answer)
    assert len(asked) == len(QUESTIONS) + 2
    assert (found.language, found.speech, found.speech_rate_wpm) == ("en", False, 165)
    assert found.saw.max_thickness_mm == 60.0
    assert (found.skill, found.distance_mm, found.cell_height_mm) == ("terse", 2000.0, 5.0)
    assert found.saw.throat_mm == default_settings().saw.throat_mm
    assert any("450" in a or "406.4" in a for a in asked)
    assert not any(answers.values())


def test_who_works_in_inches_answers_in_inches(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["setup", "--units", "inch"]) == 0
    assert "throat    16.0 in" in capsys.readouterr().out
    assert main(["setup", "--throat", "20 1/4", "--fingers", "1"]) == 0
    shown = capsys.readouterr().out
    assert "throat    20 1/4 in" in shown and "fingers   1.0 in" in shown
    assert main(["setup", "--throat", "406,4 mm"]) == 0
    assert "throat    16.0 in" in capsys.readouterr().out
    assert main(["setup", "--units", "mm"]) == 0
    assert "throat    406.4 mm" in capsys.readouterr().out


def test_drills_are_parted_by_commas_that_are_no_decimal_marks(
    capsys: pytest.CaptureFixture[str],
) -> None:
    for text in (
        "1,0 mm, 1,5 mm, #60",
        "1.0 mm,1.5 mm,#60",
        "1,0 mm; 1,5 mm; #60",
        "#60, 1.5, 1,0",
    ):
        assert main(["setup", "--drills", text]) == 0
        assert "drills    1.0 mm, #60, 1.5 mm" in capsys.readouterr().out, text
    assert main(["setup", "--drills", "1/16 Zoll"]) == 0
    assert "drills    1/16 in" in capsys.readouterr().out


def test_the_bar_is_ten_lines_high() -> None:
    assert len(bar("utf-8").split("\n")) == 10
    assert bar("ascii").isascii()


def test_a_learned_pedal_goes_into_the_settings() -> None:
    repeats = [10.25 + n / 11 for n in range(30)]
    learned = learn([[1.0], [4.0], [7.0]], [[1.0, 1.2]], [10.0, *repeats])
    found = with_pedal(default_settings(), "f13", learned)
    assert found.pedal_key == "f13"
    assert found.pedal_repeat_s > 1 / 11
    assert found.pedal_hold_s > 0.25


@pytest.mark.parametrize(
    ("flag", "given", "says"),
    [("distance", "3", "Give 200 mm to 6000 mm."), ("bar", "3", "Give 10 mm to 500 mm."),
     ("dial", "0", "Give 1 to 3000."), ("capacity", "1", "Give 3 mm to 150 mm.")],
)  # fmt: skip
def test_a_value_out_of_range_names_its_flag_and_range(
    flag: str, given: str, says: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["setup", f"--{flag}", given]) == 2
    told = capsys.readouterr().err
    assert f"--{flag}: {given}" in told and says in told and "toml" not in told


@pytest.mark.parametrize("said", ["each", "each hole", "all at once", "by level"])
def test_what_the_drill_question_offers_is_an_answer(said: str) -> None:
    question = next(q for q in QUESTIONS if q.flag == "drilling")
    assert question.change(default_settings(), said).drilling in said.split()
