"""The page: whole, alone, readable in dark and light, and opened in a real browser."""

from __future__ import annotations

import http.server
import re
import shutil
import subprocess
import threading
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import pytest

from companion.cli.main import main
from companion.journal.store import Journal
from companion.planner.plan import Minutes, Project
from companion.review import insight
from companion.review.charts import Bar, bars, board, tone
from companion.review.model import MishapSeen, Review, RunSeen, SessionSeen, Totals
from companion.review.page import STYLE, detail_of, review_page
from companion.review.text import CURVE_RUNS, CURVES_SHOWN, review_lines
from companion.review.text_charts import bar, chart_lines
from companion.session import model as m
from companion.words import ENGLISH, words_for
from tests.review.test_calibrate import planned, walk_through
from tests.review.test_review import go, one_session, seen
from tests.session.plans import plan
from tests.session.test_walk import Hands

CHROMIUM = next((p for n in ("chromium", "chromium-browser", "google-chrome")
                 if (p := shutil.which(n))), None)  # fmt: skip
NASTY = '<script>alert(1)</script> & "quoted"'


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Three runs of one work, an open run with a mishap under a nasty name, a pupil's journal."""
    monkeypatch.setenv("KERFSIDE_HOME", str(tmp_path))
    clock = Hands()
    pupil = tmp_path / "pupil.sqlite3"
    with Journal(pupil) as journal:
        walk_through(journal, Hands(), planned(4), 3.0, {"saw": "school", "sawyer": "Pupil"})
    with Journal(tmp_path / "journal.sqlite3") as journal:
        for slow in (2.0, 1.7, 1.5, 1.4):
            walk_through(journal, clock, planned(), slow, {"saw": "saw", "sawyer": "Teacher"})
        walk = one_session(journal, clock, replace(plan(), project=Project(NASTY, "0")))
        assert walk.state.step < len(walk.machine.plan.steps)
        journal.take_in(pupil)
    return tmp_path


class _Reader(HTMLParser):
    """Collects what a browser would fetch or run, the tags and the text."""

    def __init__(self) -> None:
        super().__init__()
        self.fetched: list[str] = []
        self.tags: list[str] = []
        self.words: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        for name, value in attrs:
            if name in ("src", "href", "srcset", "action", "data", "poster") or name[:2] == "on":
                self.fetched.append(f"{name}={value}")

    def handle_data(self, data: str) -> None:
        self.words.append(data)


def read(page: str) -> _Reader:
    reader = _Reader()
    reader.feed(page)
    return reader


@pytest.mark.parametrize("named", [None, "Test square", NASTY])
def test_the_page_stands_alone(named: str | None, home: Path) -> None:
    to = home / "page.html"
    assert main(["review", *([named] if named else []), "--html", str(to)]) == 0
    page = to.read_text(encoding="utf-8")
    reader = read(page)
    assert reader.fetched == ["href=data:,"]
    assert "script" not in reader.tags and "alert(1)" not in page.replace(
        "&lt;script&gt;alert(1)", ""
    )
    assert "default-src 'none'" in page
    assert not re.search(r"url\(|@import", STYLE.read_text(encoding="utf-8"))
    text = " ".join(reader.words)
    assert "Stages: planned against taken" in text and "Minutes on each blade" in text
    if named != NASTY:
        assert "Learning curve (unit model)" in text
    if named is None:
        assert "Sawyers side by side" in text and "Pupil" in text and "Teacher" in text
        assert "blade broke" in text
    # a table beside each chart but the board, whose table is that of the cuts
    charts = page.count('class="chart"')
    assert charts >= 3 and reader.tags.count("table") >= charts


def test_every_svg_is_sound(home: Path) -> None:
    to = home / "page.html"
    assert main(["review", "--html", str(to)]) == 0
    pictures = re.findall(r"<svg.*?</svg>", to.read_text(encoding="utf-8"), re.S)
    assert pictures
    for picture in pictures:
        root = ET.fromstring(picture)
        assert root.get("aria-label") and "NaN" not in picture and "inf" not in picture
        x0, y0, wide, high = map(float, (root.get("viewBox") or "").split())
        for rect in root.iter("rect"):
            assert x0 <= float(rect.get("x", "0")) <= wide + 1
            assert float(rect.get("x", "0")) + float(rect.get("width", "0")) <= wide + 1
            assert float(rect.get("y", "0")) <= high


def test_contrast_of_text_is_seven_to_one_in_both_schemes() -> None:
    """WCAG 2.2's relative luminance; ink and soft text on page and table head."""
    css = STYLE.read_text(encoding="utf-8")
    light = dict(re.findall(r"--(\w+): (#\w{6})", css[: css.index("@media")]))
    rest = css[css.index("@media") : css.index("* { box-sizing")]
    dark = dict(re.findall(r"--(\w+): (#\w{6})", rest))

    def luminance(colour: str) -> float:
        parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
        linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    def contrast(a: str, b: str) -> float:
        low, high = sorted((luminance(a), luminance(b)))
        return (high + 0.05) / (low + 0.05)

    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    for scheme in (light, dark):
        for text, ground in (("ink", "page"), ("ink", "head"), ("soft", "page")):
            least = 7.0 if text == "ink" else 6.9
            assert contrast(scheme[text], scheme[ground]) >= least, (text, ground)
        assert contrast(scheme["plan"], scheme["took"]) >= 3.0
        for picture in ("took", "plan", "cross"):
            assert contrast(scheme[picture], scheme["page"]) >= 3.0, picture
        for chip in range(5):
            assert contrast(scheme["ink"], scheme[f"t{chip}"]) >= 4.5, chip
        assert contrast("#ffffff", scheme["t5"]) >= 4.5


# ------------------------------------------------------------- the figures


def test_the_board_tells_slowness_by_width_and_marks_mishaps() -> None:
    with Journal(None) as journal:
        one_session(journal, Hands())
        found = seen(journal)
    picture = board(plan(), found.runs[0].cuts, found.mishaps, "board")
    cuts = [e for e in picture.iter("polygon")]
    tones = {e.get("class"): float(e.get("stroke-width", "0")) for e in cuts}
    # cut 1 took 2.5 of 2 min: a quarter slower; cut 2 is not done
    assert set(tones) == {"cut tone3", "cut tone0"} and tone(1.25) == 3
    assert tones["cut tone3"] > tones["cut tone0"]
    crosses = [e for e in picture.iter("line") if e.get("class") == "cross"]
    assert len(crosses) == 2
    x = (float(crosses[0].get("x1", "0")) + float(crosses[0].get("x2", "0"))) / 2
    y = (float(crosses[0].get("y1", "0")) + float(crosses[0].get("y2", "0"))) / 2
    assert (x, y) == pytest.approx((0.0, 40.0), abs=0.02)


def test_bars_are_in_proportion() -> None:
    picture = bars([Bar("a", 2.0, 1.0, 4.0, 1.0), Bar("b", 2.0, 1.0, 4.0, 3.0)], "x")
    wide = [float(e.get("width", "0")) for e in picture.iter("rect")]
    assert wide[1] == pytest.approx(3 * wide[0], abs=0.05)
    assert bar(1, 2, 10) == "█" * 5


def test_a_mishap_belongs_to_the_turn_it_is_near() -> None:
    made = plan()
    turn = made.cuts[0].turns[1]
    near = MishapSeen("burning", 0.0, "r", "cut", 1, 1.0, turn.at_mm, True)
    far = replace(near, at_mm=(turn.at_mm[0] - 20.0, turn.at_mm[1]))
    assert insight.mishap_place(near, made) == turn.technique
    assert insight.mishap_place(far, made) == "line"
    assert insight.mishap_place(replace(near, at_mm=None), made) == "cut"
    assert insight.mishap_table([near, near, far], made)[0] == (
        "burning", "1", turn.technique, 2,
    )  # fmt: skip


def test_streaks_by_local_days_and_weeks() -> None:
    day = 86_400.0
    monday = 1_699_833_600.0  # 2023-11-13, midnight UTC

    def at(days: float, rehearsed: bool = False, offset: int = 0) -> SessionSeen:
        return SessionSeen("s", "p", "", rehearsed, monday + days * day, offset, 1.0,
                           {"other": 1.0}, "left", 0, 0, 0.0)  # fmt: skip

    found = insight.streaks([at(0.5), at(1.5), at(2.5), at(4.5), at(7.5), at(8.5), at(30.5)])
    assert (found.days, found.longest_days) == (7, 3)
    assert (found.current_weeks, found.longest_weeks) == (1, 2)
    assert insight.streaks([at(0.5), at(1.5, rehearsed=True)]).days == 1
    # 23:30 UTC is the next day two hours east
    assert insight.streaks([at(0.98), at(1.5)]).longest_days == 2
    assert insight.streaks([at(0.98, offset=120), at(1.5, offset=120)]).days == 1
    assert insight.streaks([]) == insight.Streaks(0, 0, 0, 0)
    looked = replace(at(1.5), shares={"checks": 2.0, "paused": 9.0})
    assert insight.streaks([at(0.5), looked, at(2.5)]).longest_days == 1, "nothing was worked on"


def test_minutes_per_blade_part_at_each_change() -> None:
    with Journal(None) as journal:
        walk = one_session(journal, Hands())
        found = seen(journal)
        go(walk, Hands(), 0.0, m.Tick())
    (run,), broke = found.runs, found.mishaps
    assert insight.per_blade(run, ()) == pytest.approx((2.5,))
    assert insight.per_blade(run, broke) == pytest.approx((1.5, 1.0))
    # no blade saws longer than the step did that was set right afterwards
    short = [replace(s, took_min=1.2) if s.stage == "cut" and s.cut == 1 else s for s in run.steps]
    assert insight.per_blade(replace(run, steps=tuple(short)), broke) == pytest.approx((1.2,))
    slipped = [replace(b, kind="blade-slipped") for b in broke]
    assert insight.per_blade(run, slipped) == pytest.approx((2.5,)), "the same blade again"
    changed = [replace(s, stage="blade", done=True) if s.number == 5 else s for s in run.steps]
    changed = [replace(s, stage="cut", took_min=4.0) if s.number == 7 else s for s in changed]
    assert insight.per_blade(replace(run, steps=tuple(changed)), ()) == pytest.approx((2.5, 4.0))


def test_sawyers_side_by_side_in_the_terminal(
    home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["review", "Test square"]) == 0
    out = capsys.readouterr().out
    assert "Sawyers side by side" in out and "Teacher" in out and "Pupil" in out
    assert "█" in out and "each doubling of the runs takes" in out


def test_of_many_runs_and_works_the_newest_are_drawn() -> None:
    """Ten years of one work are a line for each run no more than they are a screen each."""
    runs = [_run(f"w{work}", n, 40.0 - n) for work in range(CURVES_SHOWN + 2) for n in range(20)]
    found = Review((), tuple(runs), (), (), Totals())
    drawn = chart_lines(found, ENGLISH)
    heads = [line for line in drawn if "each doubling" in line]
    assert [h.split(":")[0] for h in heads] == [f"Work w{n}" for n in range(2, CURVES_SHOWN + 2)]
    one = drawn[drawn.index(heads[-1]) + 1 :][: CURVE_RUNS + 1]
    assert one[0].strip().startswith("8 earlier ones")
    assert [int(line.split()[0]) for line in one[1:]] == list(range(9, 21))
    listed = [line for line in review_lines(found, ENGLISH) if "Work w7" in line]
    assert any("40.0 … 32.0, 31.0, 30.0" in line for line in listed)
    assert not any("Work w1:" in line for line in review_lines(found, ENGLISH))


def test_numbers_bear_the_mark_of_the_language_and_stay_with_their_units(home: Path) -> None:
    german = words_for("de")
    with Journal(home / "journal.sqlite3") as journal:
        found = seen(journal)
        page = review_page(found, [detail_of(found.runs[0], found.mishaps, {})], german)
    lines = [*review_lines(found, german), *chart_lines(found, german)]
    text = " ".join(read(page.replace(STYLE.read_text(encoding="utf-8"), "")).words)
    for shown in (*lines, text):
        assert not re.search(r"(?<![\d.-])\d+\.\d+(?![\d.-])", shown), shown
    assert re.search(r"\d,\d", text) and any(re.search(r"\d,\d █", line) for line in lines)
    for line in lines:
        assert not re.match(r"\s*(%|min|mm)\b|\s*%", line), line


def _run(work: str, n: int, minutes: float) -> RunSeen:
    return RunSeen(
        f"{work}-{n}", f"Work {work}", "", work, "b", 1, 1, False,
        1e9 + 1e6 * int(work[1:]) + n, "done", 2, 1, minutes, Minutes(1.0, 2.0, 3.0), minutes,
        2.0, (), "mdf", 6.0, 1, "3",
    )  # fmt: skip


# ------------------------------------------------------------- a real browser


class _Counting(http.server.BaseHTTPRequestHandler):
    asked: list[str] = []

    def do_GET(self) -> None:  # noqa: N802  # the library's name
        self.asked.append(self.path)
        self.send_response(404)
        self.end_headers()

    def do_CONNECT(self) -> None:  # noqa: N802
        self.do_GET()

    def log_message(self, format: str, *args: object) -> None:  # noqa: A002
        """Quiet."""


@pytest.fixture
def proxy() -> Iterator[tuple[int, list[str]]]:
    """A proxy that answers nothing and counts whatever the browser asks for."""
    _Counting.asked = []
    with http.server.ThreadingHTTPServer(("127.0.0.1", 0), _Counting) as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        yield server.server_address[1], _Counting.asked
        server.shutdown()


def browse(home: Path, port: int, page: Path, *flags: str) -> str:
    """Open a page in a headless browser; its console."""
    assert CHROMIUM is not None
    done = subprocess.run(
        [CHROMIUM, "--headless", "--no-sandbox", "--disable-gpu", "--enable-logging=stderr",
         "--v=0", "--disable-background-networking", "--disable-component-update", "--no-first-run",
         "--disable-sync", "--disable-default-apps", f"--user-data-dir={home / 'browser'}",
         f"--proxy-server=127.0.0.1:{port}", "--proxy-bypass-list=<-loopback>", *flags,
         page.as_uri()],
        capture_output=True, text=True, timeout=120, check=True,
    )  # fmt: skip
    return "\n".join(line for line in done.stderr.splitlines() if "CONSOLE" in line)


@pytest.mark.skipif(CHROMIUM is None, reason="no Chromium on this machine")
def test_a_browser_finds_no_error_and_asks_no_network(
    home: Path, proxy: tuple[int, list[str]]
) -> None:
    port, asked = proxy
    to = home / "page.html"
    assert main(["review", "--html", str(to)]) == 0
    own = "http://kerfside.invalid/"
    bad = home / "bad.html"
    bad.write_text(f"<img src='{own}x.png'><script>console.error('told')</script>")
    # the net catches what there is to catch
    console = browse(home, port, bad, "--screenshot=" + str(home / "bad.png"))
    assert "told" in console and any("x.png" in a for a in asked)
    asked.clear()
    pictures = {}
    for scheme in ("light", "dark"):
        shot = home / f"{scheme}.png"
        flags = ["--force-dark-mode"] if scheme == "dark" else []
        console = browse(home, port, to, f"--screenshot={shot}", "--window-size=900,1400", *flags)
        assert console == ""
        pictures[scheme] = shot
    paper = home / "page.pdf"
    assert browse(home, port, to, f"--print-to-pdf={paper}", "--no-pdf-header-footer") == ""
    # the browser asks its makers things of its own, now and then; the page names none of them
    assert all(_host(a).endswith(MAKERS) for a in asked), asked
    text = to.read_text(encoding="utf-8")
    assert not any(maker in text for maker in MAKERS)
    _look(pictures, paper)


MAKERS = (".google.com", ".googleapis.com", ".gvt1.com", ".gstatic.com")


def _host(asked: str) -> str:
    return asked.split("//")[-1].split("/")[0].split(":")[0]


def _look(pictures: dict[str, Path], paper: Path) -> None:
    image = pytest.importorskip("PIL.Image")
    corner = {k: image.open(p).convert("L").getpixel((2, 2)) for k, p in pictures.items()}
    assert corner["light"] > 240 and corner["dark"] < 40, corner
    pdfium = pytest.importorskip("pypdfium2")
    document = pdfium.PdfDocument(paper.read_bytes())
    text = "".join(document[i].get_textpage().get_text_range() for i in range(len(document)))
    assert "Sawyers side by side" in text and "Sessions" in text
    first = document[0].render(scale=1).to_pil().convert("L")
    assert first.getpixel((2, 2)) > 240
