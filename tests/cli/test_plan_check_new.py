"""The verbs plan, check and new, as a user calls them."""

from __future__ import annotations

import io
import json
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from companion.cli import main as cli
from companion.cli.new import as_drawn, ask, ask_finish, finish_from
from companion.cli.plan import plan_lines
from companion.cli.wrapping import folded, show
from companion.devices.paths import shipped
from companion.planner.make import plan_project
from companion.planner.plan import plan_from_json
from companion.planner.project import Overrides, load_project
from companion.shop.finishing import PLAIN, Finish
from companion.shop.settings import default_settings
from companion.words import ENGLISH, Words, words_for

RING = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="40mm" viewBox="0 0 60 40">'
    '<path fill-rule="evenodd" d="M0 0h60v40h-60z M20 10h20v20h-20z"/></svg>'
)


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = tmp_path / "home"
    monkeypatch.setenv("KERFSIDE_HOME", str(folder))
    return folder


@pytest.fixture
def drawing(tmp_path: Path) -> Path:
    path = tmp_path / "ring.svg"
    path.write_text(RING, encoding="utf-8")
    return path


def run(capsys: pytest.CaptureFixture[str], *args: object) -> tuple[int, str, str]:
    code = cli.main([str(a) for a in args])
    out, err = capsys.readouterr()
    return code, out, err


def test_plan_lists_for_people(capsys: pytest.CaptureFixture[str], drawing: Path) -> None:
    code, out, err = run(capsys, "plan", drawing, "--steps")
    assert (code, err) == (0, "")
    assert "board: MDF, 90.0 mm x 70.0 mm, 6.0 mm thick, stack of 1 (up to 3 cut true)" in out
    assert "1 piece, 1 opening" in out
    assert out.rstrip().endswith("The saw's manual, local codes and licensed practice come first.")
    assert "Thread the blade at hole 1, saw off, teeth down." in out


@pytest.mark.parametrize("words", [ENGLISH, words_for("de"), words_for("en", True)])
@pytest.mark.parametrize("demo", ["harbour_sign", "quay_number"])
def test_the_table_of_cuts_fits_80_columns(demo: str, words: Words) -> None:
    settings = default_settings()
    plan = plan_project(load_project(shipped("demo_projects") / demo), settings, words)
    lines = plan_lines(replace(plan, findings=()), words, settings, False)
    head = next(k for k, line in enumerate(lines) if line.startswith(("cut ", "Nr.")))
    table = lines[head : head + 1 + len(plan.cuts)]
    assert max(map(len, table)) <= 80
    assert len(table) > 3 and all(re.search(r" [\d.,]+  \S+ \d+$", row) for row in table[1:])


def test_a_terminal_breaks_between_words_and_a_pipe_not(monkeypatch: pytest.MonkeyPatch) -> None:
    class Terminal(io.StringIO):
        def isatty(self) -> bool:
            return True

    monkeypatch.setenv("COLUMNS", "80")
    text = "warn  A  neck: " + "a word or two " * 12
    screen, pipe = Terminal(), io.StringIO()
    show(text, screen)
    show(text, pipe)
    rows = screen.getvalue().splitlines()
    assert pipe.getvalue() == text + "\n" and len(rows) == 3 and max(map(len, rows)) <= 80
    assert " ".join(" ".join(rows).split()) == " ".join(text.split())
    assert all(row.startswith(" " * 9) for row in rows[1:])
    command = "kerfside new " + "--name x " * 12
    assert folded(command, 80) == command


def test_plan_json_is_schema_1_and_the_same_from_the_cache(
    capsys: pytest.CaptureFixture[str], drawing: Path, home: Path
) -> None:
    first = run(capsys, "plan", drawing, "--json")
    kept = list((home / "plans").iterdir())
    second = run(capsys, "plan", drawing, "--json")
    assert first == second and first[0] == 0
    assert len(kept) == 1 and list((home / "plans").iterdir()) == kept
    plan = plan_from_json(first[1])
    assert (plan.schema, len(plan.cuts), plan.openings) == (1, 2, 1)


def test_flags_stand_over_the_project(capsys: pytest.CaptureFixture[str], drawing: Path) -> None:
    code, out, _ = run(
        capsys, "plan", drawing, "--json", "--width", "4in", "--material", "basswood",
        "--thickness", "1/8in", "--stack", "2", "--blade", "1",
    )  # fmt: skip
    plan = json.loads(out)
    assert code == 0
    assert plan["board"]["width_mm"] == pytest.approx(4 * 25.4 + 30.0)
    assert plan["board"]["material"] == "basswood"
    assert plan["board"]["thickness_mm"] == 3.175 and plan["board"]["stack"] == 2
    assert plan["blade"]["number"] == "1"
    turned = json.loads(run(capsys, "plan", drawing, "--json", "--shaded", "waste")[1])
    assert turned["openings"] != 0 and turned["kept_area_mm2"] != plan["kept_area_mm2"]


DOTTED = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="40mm" viewBox="0 0 60 40">'
    '<path d="M0 0h60v40h-60z"/><circle fill="#fff" cx="12" cy="20" r="1.5"/>'
    '<path fill="#fff" d="M30 10h20v20h-20z"/></svg>'
)
"""A plate with a square opening and a round one of 3 mm."""


def test_round_openings_are_sawn_until_told_otherwise(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    path = tmp_path / "dotted.svg"
    path.write_text(DOTTED, encoding="utf-8")
    _, sawn, _ = run(capsys, "plan", path)
    assert "note  " in sawn and "round-by-drill" in sawn and "to size" not in sawn
    _, told, _ = run(capsys, "plan", path, "--round-openings", "drill", "--steps")
    assert "round-by-drill" not in told and "1 piece, 2 openings" in told
    (line,) = [one for one in told.splitlines() if "to size" in one and "opening 2" in one]
    assert line.split() == ["3", "(27.0,", "35.0)", "3.0", "mm", "-", "to", "size", "-", "-",
                            "opening", "2"]  # fmt: skip
    assert "Clamp board and backing; drill hole 3 to size, 3.0 mm." in told
    # the flag makes a project that says so, and the file does the same
    folder = tmp_path / "made"
    assert run(capsys, "new", path, folder, "--round-openings", "drill")[0] == 0
    assert load_project(folder).round_openings == "drill"
    plan = json.loads(run(capsys, "plan", folder, "--json")[1])
    assert [h["opening"] for h in plan["to_size"]] == [2] and len(plan["cuts"]) == 2
    again = json.loads(run(capsys, "plan", folder, "--json", "--round-openings", "saw")[1])
    assert again["to_size"] == [] and len(again["cuts"]) == 3


def test_a_stop_finding_is_exit_code_1(capsys: pytest.CaptureFixture[str], drawing: Path) -> None:
    for verb in ("plan", "check"):
        code, out, _ = run(capsys, verb, drawing, "--stack", "20")
        assert code == 1
        assert "STOP  -  stack-over-saw" in out


def test_check_lists_gravest_first_and_as_json(
    capsys: pytest.CaptureFixture[str], drawing: Path
) -> None:
    args = (drawing, "--stack", "20", "--width", "20mm")
    code, out, _ = run(capsys, "check", *args, "--json")
    found = json.loads(out)
    assert code == 1
    order = ["stop", "warn", "note"]
    ranks = [order.index(f["severity"]) for f in found["findings"]]
    assert ranks == sorted(ranks) and ranks[0] == 0
    plan = json.loads(run(capsys, "plan", *args, "--json")[1])
    assert found["findings"] == plan["findings"]
    text = run(capsys, "check", *args)[1]
    assert text.index("STOP") < text.index("note")
    assert re.search(
        rf"{ranks.count(0)} stops?, {ranks.count(1)} warnings?, {ranks.count(2)} notes?\.", text
    )


@pytest.mark.parametrize(
    ("args", "says"),
    [
        (("plan", "{tmp}/nothing"), "is not there"),
        (("plan", "{tmp}"), "has no project.toml"),
        (("plan", "{tmp}/ring.svg", "--width", "wide"), "not a length: 'wide'"),
        (("plan", "{tmp}/ring.svg", "--width", "20km"), "unknown unit"),
        (("plan", "{tmp}/ring.svg", "--material", "cheese"), "unknown material 'cheese'"),
        (("plan", "{tmp}/ring.svg", "--stack", "99"), "--stack is 99"),
        (("check", "{tmp}/ring.svg", "--blade", "99"), "unknown blade '99'"),
        (("check", "{tmp}/text.txt"), ""),
        (("new", "{tmp}/nothing.svg"), "is not there"),
        (("new", "{tmp}"), "has no project.toml"),
    ],
)
def test_bad_input_is_one_message_and_exit_code_2(
    capsys: pytest.CaptureFixture[str], drawing: Path, args: tuple[str, ...], says: str
) -> None:
    (drawing.parent / "text.txt").write_text("hello", encoding="utf-8")
    code, out, err = run(capsys, *(a.format(tmp=drawing.parent) for a in args))
    assert (code, out) == (2, "")
    assert err.startswith("kerfside: ") and err.count("\n") == 1
    assert says in err


def test_spoilt_settings_are_told(
    capsys: pytest.CaptureFixture[str], drawing: Path, home: Path
) -> None:
    home.mkdir()
    (home / "settings.toml").write_text("[saw]\nthroat_mm = 1\n", encoding="utf-8")
    code, _, err = run(capsys, "plan", drawing)
    assert code == 2 and "settings.toml: saw.throat_mm" in err


def test_lengths_are_told_in_inches_when_asked(
    capsys: pytest.CaptureFixture[str], drawing: Path, home: Path
) -> None:
    home.mkdir()
    (home / "settings.toml").write_text("[sawyer]\ninch = true\n", encoding="utf-8")
    assert "board: MDF, 3.54 in x 2.76 in" in run(capsys, "plan", drawing)[1]


# ---------------------------------------------------------------------- new


def test_new_makes_a_project_that_plans_alike(
    capsys: pytest.CaptureFixture[str], drawing: Path, tmp_path: Path
) -> None:
    folder = tmp_path / "made"
    flags = ("--width", "100mm", "--material", "hardboard", "--thickness", "3mm", "--stack", "2",
             "--blade", "2/0", "--lines", "ink")  # fmt: skip
    code, out, _ = run(capsys, "new", drawing, folder, "--name", 'A "b" \\ sign', *flags)
    assert code == 0 and str(folder) in out
    assert (folder / "pattern.svg").read_text(encoding="utf-8") == RING
    spec = load_project(folder)
    assert spec.name == 'A "b" \\ sign'
    bare = json.loads(run(capsys, "plan", drawing, "--json", *flags)[1])
    made = json.loads(run(capsys, "plan", folder, "--json")[1])
    del bare["project"]["name"], made["project"]["name"]
    assert made == bare


def test_new_takes_the_drawings_name_and_never_overwrites(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    drawing = tmp_path / "sea_gull.svg"
    drawing.write_text(RING, encoding="utf-8")
    assert run(capsys, "new", drawing)[0] == 0
    assert load_project(tmp_path / "sea_gull").name == "Sea gull"
    before = (tmp_path / "sea_gull" / "project.toml").read_bytes()
    code, _, err = run(capsys, "new", drawing, "--width", "10mm")
    assert code == 2 and "not empty" in err
    assert (tmp_path / "sea_gull" / "project.toml").read_bytes() == before


def test_new_says_which_defaults_it_took(
    capsys: pytest.CaptureFixture[str], drawing: Path, tmp_path: Path
) -> None:
    said = " ".join(run(capsys, "new", drawing, tmp_path / "a")[1].split())
    assert "as drawn (60.0 mm), MDF, 6.0 mm thick, 1 board at once, no finish" in said
    assert str(tmp_path / "a" / "project.toml") in said.replace(" ", "")
    flags = ("--width", "100mm", "--stack", "2", "--finish", "oil")
    said = " ".join(run(capsys, "new", drawing, tmp_path / "b", *flags)[1].split())
    assert "nothing was said: MDF, 6.0 mm thick. To" in said
    more = ("--material", "mdf", "--thickness", "5mm")
    assert "nothing was said" not in run(capsys, "new", drawing, tmp_path / "c", *flags, *more)[1]


def test_a_finish_may_be_said_in_the_users_language() -> None:
    german = words_for("de")
    assert finish_from("Öl, Aufhänger", german) == finish_from("oil, hanging")
    assert finish_from("varnish", german) == Finish("varnish")
    assert ask_finish(german, lambda _: "") is None


def test_new_refuses_what_later_would_fail(
    capsys: pytest.CaptureFixture[str], drawing: Path, tmp_path: Path
) -> None:
    code, _, err = run(capsys, "new", drawing, tmp_path / "made", "--material", "cheese")
    assert code == 2 and "unknown material" in err
    assert not (tmp_path / "made").exists()


def test_questions_are_asked_again_until_answered() -> None:
    answers: Iterator[str] = iter(["wide", "200mm", "cheese", "", "1/4in", "zero", "3"])
    asked: list[str] = []

    def answer(text: str) -> str:
        asked.append(text)
        return next(answers)

    got = ask(Overrides(), ENGLISH, answer)
    assert got == Overrides(width_mm=200.0, thickness_mm=6.35, stack=3)
    assert len(asked) == 7
    # the width as drawn is told with the question: many drawings are as small as icons
    answers = iter(["", "", "", ""])
    ask(Overrides(), ENGLISH, answer, 5.0)
    assert "as drawn, 5.0 mm" in asked[7]
    # what a flag says is not asked
    assert ask(Overrides(1, "mdf", 1, 1), ENGLISH, answer) == Overrides(1, "mdf", 1, 1)


def test_a_wrong_material_gets_its_like_and_the_list_once(
    capsys: pytest.CaptureFixture[str],
) -> None:
    answers = iter(["mfd", "cheese", "mdf"])
    asked: list[str] = []

    def answer(text: str) -> str:
        asked.append(text)
        return next(answers)

    assert ask(Overrides(width_mm=1, thickness_mm=6, stack=1), ENGLISH, answer).material == "mdf"
    out, err = capsys.readouterr()
    assert out.count("birch-plywood") == 1 and not any("birch" in text for text in asked)
    first, second = err.splitlines()
    assert "Did you mean mdf" in first and "birch" not in first and "birch-plywood" in second


def test_a_stack_the_saw_does_not_take_is_refused_at_the_question(
    capsys: pytest.CaptureFixture[str],
) -> None:
    answers = iter(["20", "8"])
    asked: list[str] = []

    def answer(text: str) -> str:
        asked.append(text)
        return next(answers)

    known = Overrides(width_mm=1, material="mdf")
    answers = iter(["", *answers])  # the thickness: 6 mm
    assert ask(known, ENGLISH, answer, saw_mm=50.8).stack == 8  # 8 x 6 = 48
    assert "up to 8" in asked[1] and "thicker than the saw takes" in capsys.readouterr().err


def test_new_warns_of_an_icon(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    icon = tmp_path / "icon.svg"
    icon.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="16" height="16"><path d="M0 0h16v16H0z"/>'
        "</svg>",
        encoding="utf-8",
    )
    code, out, _ = run(capsys, "new", icon, tmp_path / "small")
    assert code == 0 and "only 4.2 x 4.2 mm, the size of an icon" in out and "--width" in out
    _, out, _ = run(capsys, "new", icon, tmp_path / "wide", "--width", "150mm")
    assert "icon." not in out


def test_the_width_as_drawn_is_known_and_what_cannot_be_read_makes_no_project(
    capsys: pytest.CaptureFixture[str], drawing: Path, tmp_path: Path
) -> None:
    width_mm, doubts = as_drawn(drawing, Overrides())
    assert width_mm == pytest.approx(60.0) and not doubts
    words_only = tmp_path / "text.svg"
    words_only.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg"><text x="1" y="9">sea</text></svg>',
        encoding="utf-8",
    )
    code, _, err = run(capsys, "new", words_only, tmp_path / "made", "--width", "90mm")
    assert code == 2 and "Convert the text to outlines" in err
    assert not (tmp_path / "made").exists()


def test_the_finish_is_asked_may_be_skipped_and_is_written(
    capsys: pytest.CaptureFixture[str], drawing: Path, tmp_path: Path
) -> None:
    answers = iter(["gold", "oil paint", "Oil, hanging"])
    assert ask_finish(ENGLISH, lambda _text: next(answers)) == Finish("oil", hanging=True)
    told = capsys.readouterr().err
    assert "not a finish: 'gold'" in told and "not a finish: 'paint, oil'" in told
    assert ask_finish(ENGLISH, lambda _text: "") is None
    assert run(capsys, "new", drawing, tmp_path / "plain")[0] == 0
    assert 'coat = "none"' in (tmp_path / "plain" / "project.toml").read_text(encoding="utf-8")
    assert load_project(tmp_path / "plain").finish == PLAIN
    for words, finish in (
        ("varnish backing", Finish("varnish", backing=True)), ("hanging", Finish(hanging=True)),
        ("none", Finish("none")),
    ):  # fmt: skip
        folder = tmp_path / words.replace(" ", "-")
        assert run(capsys, "new", drawing, folder, "--finish", words)[0] == 0
        assert load_project(folder).finish == finish
    code, _, err = run(capsys, "new", drawing, tmp_path / "x", "--finish", "gold")
    assert code == 2 and "Write one of paint" in err


# -------------------------------------------------------------------- light


def test_help_and_new_import_no_geometry(tmp_path: Path) -> None:
    """Fresh interpreter: asking for help must not wait for libraries."""
    program = (
        "import sys\nfrom companion.cli.main import main\n"
        "try:\n    main(['plan', '--help'])\nexcept SystemExit:\n    pass\n"
        "heavy = {'numpy', 'shapely', 'scipy', 'textual', 'rich', 'sqlite3', 'svgpathtools'}\n"
        "print('HEAVY', sorted(heavy & set(sys.modules)))\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True, cwd=tmp_path
    )
    assert "--thickness" in done.stdout and "HEAVY []" in done.stdout


def test_a_demo_plans_from_the_command_line(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    folder = tmp_path / "quay"
    shutil.copytree(shipped("demo_projects") / "quay_number", folder)
    code, out, _ = run(capsys, "plan", folder, "--json")
    plan = plan_from_json(out)
    assert code == 0
    assert plan.board.stack == 2 and plan.fasteners_mm
    assert default_settings().skill == "beginner"
