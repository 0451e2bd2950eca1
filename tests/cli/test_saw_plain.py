"""``saw --plain``: the whole way from a drawing to a log, by lines, killed and resumed."""

from __future__ import annotations

import io
import os
import signal
import subprocess
import sys
import time
from collections.abc import Sequence
from pathlib import Path

import pytest

from companion.cli.lines import Lines
from companion.cli.main import main
from companion.cli.plain import run_plain, understood
from companion.journal.lease import Lease
from companion.journal.store import Journal
from companion.session import model as m
from companion.session.clock import MadeUpClock, SystemClock
from companion.session.texts import shop_texts
from companion.session.walk import Walk
from companion.shop.finishing import Finish, finishing
from companion.words import words_for
from tests.session.plans import machine, plan

ROOT = Path(__file__).resolve().parents[2]
CHECKS = len(shop_texts().checklist)
GUARDS = len(shop_texts().guard)
FIRST = len(shop_texts().first) + GUARDS
RECOVERY = next(len(r.steps) for r in shop_texts().recoveries if r.key == "blade-broke")
STEPS = 17 + len(finishing("fibre"))
"""Of the frame: its preparation and its two cuts, leg by leg, and the finishing of MDF."""
FRAME = """<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="80mm"
viewBox="0 0 100 80"><path fill-rule="evenodd" d="M10 10H90V70H10Z M35 25H65V55H35Z"/></svg>"""
LINK = """<svg xmlns="http://www.w3.org/2000/svg" width="120mm" height="60mm"
viewBox="0 0 120 60"><path d="M10 10H50V29.9H70V10H110V50H70V30.1H50V50H10Z"/></svg>"""
"""Two plates on a link of 0.2 mm: it breaks."""


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("KERFSIDE_HOME", str(tmp_path / "home"))
    (tmp_path / "frame.svg").write_text(FRAME)
    return tmp_path


def saw(home: Path, lines: Sequence[str], *flags: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "companion", "saw", "--plain", str(home / "frame.svg"), *flags],
        input="".join(f"{line}\n" for line in lines), capture_output=True, text=True, cwd=ROOT,
        timeout=120, check=False,
    )  # fmt: skip


def lines_out(text: str, journal: Journal, made_up: bool = True) -> tuple[list[str], int]:
    out: list[str] = []
    walk = Walk(machine(), journal, MadeUpClock() if made_up else SystemClock())
    code = run_plain(walk, Lines(io.StringIO(text)), out.append)
    return out, code


def test_whole_run_then_killed_resumed_and_logged(home: Path) -> None:
    first = saw(home, [""] * (CHECKS + 2))
    assert first.returncode == 0, first.stderr
    assert f"step 3 of {STEPS}" in first.stdout and f"Left at step 3 of {STEPS}" in first.stdout

    child = subprocess.Popen(
        [sys.executable, "-m", "companion", "saw", "--plain", str(home / "frame.svg")],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, cwd=ROOT,
    )  # fmt: skip
    assert child.stdin is not None and child.stdout is not None
    child.stdin.write("\n" * (CHECKS + 1 + FIRST + 1))
    child.stdin.flush()
    seen = ""
    while f"step 5 of {STEPS}" not in seen:
        line = child.stdout.readline()
        assert line, "it ended by itself"
        seen += line
    assert f"resumed at step 3 of {STEPS}" in seen
    child.kill()
    child.communicate()

    last = saw(home, ["a", "q"])
    assert f"resumed at step 5 of {STEPS}" in last.stdout
    done = saw(home, [""] * 80)
    assert done.returncode == 0 and f"All {STEPS} steps are done." in done.stdout
    with Journal(home / "home" / "journal.sqlite3") as journal:
        kinds = [e.kind for e in journal.events()]
        steps = [e.step for e in journal.events(kind="step-done")]
        assert journal.check() == []
    assert kinds.count("session-start") == 4 and kinds.count("run-start") == 1
    assert steps == list(range(1, STEPS + 1)) and kinds.count("run-done") == 1
    assert kinds.count("checklist-done") == 3


@pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminal")
def test_through_finishing_on_a_terminal_what_is_wet_is_told_before_the_step(home: Path) -> None:
    """MDF, painted: a made-up clock goes while a sawyer works, and nobody waits for paint."""
    (home / "p").mkdir()
    (home / "p" / "frame.svg").write_text(FRAME)
    (home / "p" / "project.toml").write_text(
        '[project]\npattern = "frame.svg"\n[board]\nmaterial = "mdf"\n[finish]\ncoat = "paint"\n'
    )
    shown = on_a_terminal("saw", "--plain", "--rehearse", "--seed", "1", str(home / "p"))
    steps = shown.split("\nstep ")
    # sanding and drying take long: the saw does not wait for them live
    (off,) = [s for s in steps if "Switch off and unplug the saw." in s and ": Pattern off (" in s]
    assert off.split("\n")[1] == "  Switch off and unplug the saw."
    # while the damp wood dries the edges are sealed, if nobody waits
    sealed = next(s for s in steps if ": Edge sealer (" in s).split("\n")
    assert sealed[1:3] == ["  Wait: Damp wipe is still wet, 10 min to go.",
                           "  Seal the cut edges with thinned glue or sealer."]  # fmt: skip
    primer = next(s for s in steps if ": Primer (" in s).split("\n")
    assert primer[1].startswith("  Wait: Edge sealer is still wet, 5") and "Prime" in primer[2]
    coat = next(s for s in steps if ": First coat (" in s).split("\n")
    # the longest first, hours as hours, the rest after what is to be done
    assert coat[1].startswith("  Wait: Primer is still wet, 1 h 5")
    assert "Paint thinly" in coat[2] and coat[3].startswith("  still wet: Edge sealer, ")
    assert "* Dry: Damp wipe." in shown
    # nothing is wet that is dry, and at the end there is nothing to wait for any more
    assert "Wait: Primer is still wet, 2 h to go." in shown
    assert " 0 min to go" not in shown and "Damp wipe is still wet" not in "".join(primer)
    end = shown[shown.index("\nDone\n") :]
    assert "Wait" not in end and "still wet: Second coat, 3 h 5" in end
    steps_done = 17 + len(finishing("fibre", Finish("paint")))
    assert f"All {steps_done} steps are done." in shown


def on_a_terminal(*args: str) -> str:
    """What a pseudo-terminal of 100 columns shows while enough empty lines are typed."""
    import pty

    pid, terminal = pty.fork()
    if pid == 0:
        os.environ["COLUMNS"] = "100"
        os.execv(sys.executable, [sys.executable, "-m", "companion", *args])
    seen = b""
    typed = False
    while True:
        if not typed and b"manual" in seen:
            os.write(terminal, b"\n" * 80 + b"q\n")
            typed = True
        try:
            some = os.read(terminal, 65536)
        except OSError:  # the program has ended
            break
        if not some:
            break
        seen += some
    assert os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1]) == 0, seen.decode()
    return seen.decode().replace("\r", "")


def test_interrupt_leaves_the_run_open_with_its_own_code(home: Path) -> None:
    child = subprocess.Popen(
        [sys.executable, "-m", "companion", "saw", "--plain", str(home / "frame.svg")],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, cwd=ROOT,
    )  # fmt: skip
    assert child.stdin is not None and child.stdout is not None
    child.stdin.write("\n" * (CHECKS + 1))
    child.stdin.flush()
    while f"step 2 of {STEPS}" not in child.stdout.readline():
        assert child.poll() is None
    child.send_signal(signal.SIGINT)
    out, err = child.communicate(timeout=30)
    assert child.returncode == 130
    assert f"Left at step 2 of {STEPS}" in out and err == ""


def test_start_with_a_kept_plan_loads_no_geometry(home: Path) -> None:
    saw(home, ["q"])
    found = subprocess.run(
        [sys.executable, "-X", "importtime", "-m", "companion", "saw", "--plain",
         str(home / "frame.svg")],
        input="q\n", capture_output=True, text=True, cwd=ROOT, timeout=60, check=True,
    )  # fmt: skip
    loaded = {line.split("|")[-1].strip() for line in found.stderr.splitlines()}
    assert "companion.session.walk" in loaded
    heavy = {"shapely", "scipy", "numpy", "svgpathtools", "textual", "companion.planner.make"}
    assert loaded.isdisjoint(heavy)


def test_second_companion_is_told(home: Path) -> None:
    with Lease(home / "home" / "journal.sqlite3", "Other"):
        found = saw(home, ["q"])
    assert found.returncode == 2
    assert "another companion is at the saw" in found.stderr and "Other" in found.stderr
    assert "Traceback" not in found.stderr and found.stderr.count("\n") == 1


def test_plan_that_says_stop_is_refused_unless_overruled(
    home: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    path = home / "link.svg"
    path.write_text(LINK)
    monkeypatch.setattr("sys.stdin", io.StringIO("q\n"))
    assert main(["saw", "--plain", str(path)]) == 1
    out, err = capsys.readouterr()
    assert out == "" and "do not cut this yet" in err and "--anyway" in err
    assert len(err) < 300
    monkeypatch.setattr("sys.stdin", io.StringIO("q\n"))
    assert main(["saw", "--plain", "--anyway", str(path)]) == 1
    assert f"[1/{CHECKS}]" in capsys.readouterr().out


def test_bad_words_are_told(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["saw", "--plain", str(home / "missing.svg")]) == 2
    assert main(["saw", "--plain", "--copies", "0", str(home / "frame.svg")]) == 2
    assert "Give 1 to 10000" in capsys.readouterr().err


def test_closed_output_leaves_the_walk_in_order(home: Path) -> None:
    """``saw --plain X | head -1``: the reader goes away in the middle."""
    saw(home, ["q"])
    child = subprocess.Popen(
        [sys.executable, "-m", "companion", "saw", "--plain", str(home / "frame.svg")],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, cwd=ROOT,
    )  # fmt: skip
    assert child.stdin is not None and child.stdout is not None and child.stderr is not None
    child.stdout.readline()
    child.stdout.close()
    child.stdin.write("\n" * 3)
    child.stdin.close()
    assert child.wait(timeout=30) == 0
    assert child.stderr.read() == ""
    child.stderr.close()
    with Journal(home / "home" / "journal.sqlite3") as journal:
        assert [e.kind for e in journal.events()][-1] == "leave"


@pytest.mark.skipif(os.name == "nt", reason="needs a pseudo-terminal")
def test_held_return_key_at_a_terminal_passes_one_item(home: Path) -> None:
    """Typed lines come from a foot or a finger: repeats pass no guard; Ctrl-C ends with 130."""
    import fcntl
    import pty
    import termios

    saw(home, ["q"])
    mine, theirs = pty.openpty()
    child = subprocess.Popen(
        [sys.executable, "-m", "companion", "saw", "--plain", str(home / "frame.svg")],
        stdin=theirs, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, cwd=ROOT,
        start_new_session=True, preexec_fn=lambda: fcntl.ioctl(0, termios.TIOCSCTTY, 0),
    )  # fmt: skip
    os.close(theirs)
    assert child.stdout is not None
    while not child.stdout.readline().startswith(f"[1/{CHECKS}]"):
        assert child.poll() is None
    for _ in range(25):
        os.write(mine, b"\r")
        time.sleep(0.03)
    os.write(mine, b"\x03")
    out, err = child.communicate(timeout=30)
    os.close(mine)
    assert child.returncode == 130 and err == ""
    assert f"[2/{CHECKS}]" in out and f"[3/{CHECKS}]" not in out
    assert out.count("Too quick") == 1


# ------------------------------------------------------------- lines, in this process


def test_every_letter_does_what_the_design_says() -> None:
    text = "\n" * (CHECKS + 3 + FIRST) + "a\nx\n\n" + "\n" * GUARDS
    # a new blade is checked as at the first power-on
    text += "m blade broke\n" + "\n" * (RECOVERY + FIRST) + "n a knot here\np\np\nb\nb\nq\n\n\n"
    with Journal(None) as journal:
        out, code = lines_out(text, journal)
        kinds = [e.kind for e in journal.events()]
    assert code == 0
    wanted = ["stop", "stop-left", "guard-passed", "mishap", "recovered", "guard-passed", "note",
              "pause", "go-on", "back", "leave"]  # fmt: skip
    mine = [k for k in kinds[kinds.index("stop") :] if k != "progress"]
    assert mine[: len(wanted) - 2] == wanted[:-2]
    assert mine[-2:] == wanted[-2:]
    page = "\n".join(out)
    assert page.count("Cut 1.1, now.") >= 3, "said, again, and after the guards"
    assert "A rehearsal" in page and "* Noted." in page
    assert f"[1/{RECOVERY}] Switch off and unplug before you reach for the ends." in page
    assert out[-1].startswith("Left at step ")


def test_the_first_line_counts_one_cut_as_one() -> None:
    for cuts, told in ((1, ": 1 cut, "), (2, ": 2 cuts, ")):
        with Journal(None) as journal:
            out: list[str] = []
            run_plain(
                Walk(machine(plan(cuts=cuts)), journal, MadeUpClock()),
                Lines(io.StringIO("")), out.append,
            )  # fmt: skip
        assert told in out[0]


def test_end_of_input_leaves_and_keeps_the_run_open() -> None:
    with Journal(None) as journal:
        out, code = lines_out("\n" * (CHECKS + 1), journal)
        assert code == 0 and [e.kind for e in journal.events()][-1] == "leave"
        assert out[-1] == "Left at step 2 of 11. The run stays open; the next saw goes on there."
        out, _ = lines_out("", journal)
        assert "* resumed at step 2 of 11" in out


def test_what_is_not_understood_changes_nothing() -> None:
    with Journal(None) as journal:
        out, _ = lines_out("go\nm\nm blade\nn\nqq\n", journal)
        kinds = [e.kind for e in journal.events()]
    assert kinds == ["session-start", "run-start", "leave"]
    assert sum(line.startswith("Not understood") for line in out) == 5
    assert any("blade broke" in line for line in out)


@pytest.mark.parametrize(
    ("line", "wanted"),
    [("", m.Done()), ("  ", m.Done()), ("A", m.Again()), ("x", m.Stop()), ("q", m.Leave()),
     ("m burning", m.Mishap("burning")), ("m wood burns", m.Mishap("burning")),
     ("m off", m.Mishap("wandered")), ("M Lip", m.Mishap("lip-left")), ("m blade", None),
     ("m nothing", None), ("n  two words ", m.Note("two words")), ("done", None), ("b b", None)],
)  # fmt: skip
def test_understood(line: str, wanted: m.Input | None) -> None:
    assert understood(line, shop_texts().recoveries_at(None)) == wanted


def test_a_mishap_at_the_drill_is_chosen_among_those_of_the_drill() -> None:
    """Its kinds by number, none of the saw's."""
    before = [s.stage for s in machine().plan.steps].index("drill")
    with Journal(None) as journal:
        out, _ = lines_out("\n" * (CHECKS + before) + "m 1\nm blade br\n", journal)
        told = [e.data["kind"] for e in journal.events(kind="mishap")]
    assert told == ["bit-broke"]
    assert (
        "Kinds of mishap: 1 drill bit broke, 2 hole off its place, 3 bit caught the board." in out
    )


@pytest.mark.parametrize(
    ("line", "kind"),
    [("m brand", "burning"), ("m burning", "burning"), ("m Holz verbrennt", None)],
)
def test_a_mishap_in_the_language_of_the_user(line: str, kind: str | None) -> None:
    german = understood(line, shop_texts().recoveries_at(None), words_for("de"))
    assert german == (m.Mishap(kind) if kind else None)


def test_announcements_are_lines_of_their_own() -> None:
    with Journal(None) as journal:
        out, _ = lines_out("\n" * (CHECKS + 4 + FIRST), journal)
    assert "* Half of the cut." in out
    assert any(line.startswith("* 1 spin ahead.") for line in out)


def test_lines_from_a_pipe_with_a_ragged_end() -> None:
    read, write = os.pipe()
    os.write(write, b"one\r\ntwo\n\xff\nend")
    os.close(write)
    with os.fdopen(read) as stream:
        assert list(Lines(stream).each(5.0)) == ["one", "two", "\ufffd", "end"]


def test_no_line_for_a_while_is_a_tick() -> None:
    read, write = os.pipe()
    with os.fdopen(read) as stream:
        found = Lines(stream).each(0.02)
        assert next(found) is None
        os.write(write, b"\n")
        assert "" in (next(found), next(found), next(found))
        os.close(write)


def test_plain_walk_of_several_copies_in_a_stack() -> None:
    """Six of these, two in a stack: three runs in one sitting, each with its time."""
    with Journal(None) as journal:
        walk = Walk(machine(plan()), journal, MadeUpClock(), runs=3)
        out: list[str] = []
        run_plain(walk, Lines(io.StringIO("\n" * 200)), out.append)
        assert len(list(journal.events(kind="run-done"))) == 3
    assert any(line.startswith("run 2 of 3, step 1 of 11") for line in out)
    assert sum(line.strip().startswith("run 3:") for line in out) >= 1
    assert out[-1] == "All 11 steps are done."
