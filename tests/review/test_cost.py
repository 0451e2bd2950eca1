"""What a batch costs: layouts against brute force, a quote by hand, the verb."""

from __future__ import annotations

import csv
import io
import math
from dataclasses import replace
from decimal import Decimal as D
from functools import cache
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from companion.cli.main import main
from companion.cli.prices import ask_prices
from companion.draw.quote_page import quote_page
from companion.errors import ShopError
from companion.planner.plan import Blade, Board, SizedHole
from companion.planner.timing import cut_features, feed_amount, rates_for
from companion.review.cost import Job, one_more, quote, typical_minutes
from companion.review.nesting import lay_blanks
from companion.review.quote_text import one_more_lines, quote_csv, quote_lines
from companion.shop.finishing import Finish, finishing
from companion.shop.prices import (
    EXAMPLE,
    Prices,
    SheetPrice,
    load_prices,
    save_prices,
    with_price,
)
from companion.words import ENGLISH
from tests.session.plans import plan

FULL = """\
currency = "EUR"
[labour]
per_hour = 30
allowance_percent = 10
[overhead]
percent = 50
of = "materials"
[profit]
margin_percent = 20
[[sheet]]
material = "mdf"
thickness_mm = 6.0
width_mm = 1000
height_mm = 500
price = 20.00
[blade]
price = 0.40
[drill]
price = 1.50
holes = 100
[tape]
price = 5.00
length_m = 50
[paint]
price = 10
covers_m2 = 2.5
coats = 2
"""


@pytest.fixture
def prices(tmp_path: Path) -> Prices:
    path = tmp_path / "prices.toml"
    path.write_text(FULL)
    return load_prices(path)


def job(copies: int = 5, stack: int = 2) -> Job:
    made = plan()
    made = replace(
        made, board=Board("mdf", 6.0, stack, 200.0, 100.0), blade=Blade("3", 0.4, 1.0, 2),
        kept_area_mm2=10_000.0,
    )  # fmt: skip
    return Job(made, copies, minutes_a_run=60.0)


# ------------------------------------------------------------- layout


@cache
def most(wide: int, high: int, w: int, h: int) -> int:
    """Brute force over every whole cut: the most blanks straight cuts can give."""
    best = int((wide, high) in ((w, h), (h, w)))
    for at in range(1, wide // 2 + 1):
        best = max(best, most(at, high, w, h) + most(wide - at, high, w, h))
    for at in range(1, high // 2 + 1):
        best = max(best, most(wide, at, w, h) + most(wide, high - at, w, h))
    return best


@settings(max_examples=60, deadline=None)
@given(st.integers(1, 22), st.integers(1, 22), st.integers(1, 9), st.integers(1, 9))
def test_layout_is_the_best_and_can_be_cut(wide: int, high: int, w: int, h: int) -> None:
    found = lay_blanks((wide, high), (w, h))
    assert found.best and len(found.blanks) == most(wide, high, w, h)
    for i, a in enumerate(found.blanks):
        assert {round(a.width_mm), round(a.height_mm)} == {w, h}
        assert a.x_mm >= 0 and a.x_mm + a.width_mm <= wide + 1e-6
        assert a.y_mm >= 0 and a.y_mm + a.height_mm <= high + 1e-6
        for b in found.blanks[i + 1 :]:
            assert (
                a.x_mm + a.width_mm <= b.x_mm + 1e-6 or b.x_mm + b.width_mm <= a.x_mm + 1e-6
                or a.y_mm + a.height_mm <= b.y_mm + 1e-6 or b.y_mm + b.height_mm <= a.y_mm + 1e-6
            )  # fmt: skip


def test_both_ways_round_beat_one_way_and_the_kerf_counts() -> None:
    """70 x 50, blanks 30 x 20: 4 or 3 one way, 5 mixed; a kerf may cost one."""
    rows = max((70 // 30) * (50 // 20), (70 // 20) * (50 // 30))
    assert rows == 4 and len(lay_blanks((70, 50), (30, 20)).blanks) == 5
    assert len(lay_blanks((100, 60), (50, 60)).blanks) == 2
    assert len(lay_blanks((100, 60), (50, 60), 3.0).blanks) == 1
    # no cut after the last blank: two blanks and one kerf fill it
    assert len(lay_blanks((103, 60), (50, 60), 3.0).blanks) == 2
    assert lay_blanks((10, 10), (20, 20)).blanks == ()


def test_many_small_blanks_take_no_time() -> None:
    found = lay_blanks((2440, 1220), (37, 23), 3.0)
    area = (2443 * 1223) // (40 * 26)
    assert 0.97 * area <= len(found.blanks) <= area


# ------------------------------------------------------------- the quote


def test_a_quote_by_hand(prices: Prices) -> None:
    """5 copies, stack of 2: 3 runs. A sheet of 1000 x 500 gives 25 blanks of 200 x 100."""
    made = quote(job(), prices)
    amount = {i.name: i.amount for i in made.items}
    assert made.layout is not None and len(made.layout.blanks) == 25 and made.sheets == 1
    assert amount["boards"] == D("20") / 25 * 5 == D(4)
    assert amount["blades"] == 2 * 3 * D("0.40")
    holes = len(job().plan.holes)
    assert amount.get("drills", D(0)) == D("1.50") * holes * 3 / 100
    assert amount["tape"] == D("1.8") * D("5.00") / 50  # 0.6 m around, three times
    # 2 x 10,000 mm2 and two cuts of 160 mm by 6 mm: 0.02192 m2
    assert amount["coating"] == D("0.02192") * 5 * 2 * 10 / D("2.5")
    assert amount["labour"] == D(180) * D("1.1") / 60 * 30 == D(99)
    materials = sum(i.amount for i in made.items if i.kind == "material")
    assert amount["overhead"] == materials / 2
    assert made.cost == materials * D("1.5") + 99
    assert made.price is not None and made.cost is not None
    assert made.price == made.cost / D("0.8")
    page = "\n".join(quote_lines(made, ENGLISH))
    assert "3 h 18 min in 3 runs, as planned" in page
    assert "markup 25.0 % of the cost = margin 20.0 % of the price" in page
    rows = list(csv.DictReader(io.StringIO(quote_csv(made, ENGLISH))))
    assert rows[0]["amount"] == "4.00" and rows[0]["currency"] == "EUR"
    assert {r["what"] for r in rows} >= {"boards", "overhead", "price of one"}


def test_openings_drilled_to_size_cost_their_wear_and_their_edges(prices: Prices) -> None:
    """Each is a hole more a run; its edge, pi times 5 mm by 6 mm, is coated too."""
    made = job()
    sized = tuple(SizedHole(n, (9.0 * n, 9.0), 5.0, "5.0 mm", n, 1, 2) for n in (3, 4))
    more = replace(made, plan=replace(made.plan, to_size=sized))
    before, after = ({i.name: i.amount for i in quote(one, prices).items} for one in (made, more))
    assert after["drills"] - before["drills"] == D("1.50") * 2 * 3 / 100
    square_m = D(f"{2 * math.pi * 5.0 * 6.0 / 1e6:.6f}")
    assert after["coating"] - before["coating"] == pytest.approx(
        square_m * 5 * 2 * 10 / D("2.5"), abs=D("0.0001")
    )


def test_the_coats_are_those_of_the_finish_unless_the_prices_tell_their_own(
    prices: Prices,
) -> None:
    """Fibre board painted: sealer on the edges, then primer and two coats all over."""
    painted = replace(job(), finish=finishing("fibre", Finish("paint")))

    def coating(of: Job, told: Prices) -> list[tuple[str, D]]:
        return [(i.detail, i.amount) for i in quote(of, told).items if i.name == "coating"]

    untold = replace(prices, paint_coats=None)
    # two cuts of 160 mm by 6 mm are 0.00192 m2 of edge, with both faces 0.02192 m2
    ((detail, amount),) = coating(painted, untold)
    assert amount == (3 * D("0.02192") + D("0.00192")) * 5 * 10 / D("2.5")
    assert "0.110 m2, faces and edges, coats: 3; 0.010 m2, edges alone, coats: 1" in detail
    assert coating(painted, prices) == coating(job(), prices) != []
    assert coating(painted, replace(prices, paint_coats=D(0))) == []
    assert coating(replace(painted, finish=finishing("fibre")), untold) == []
    assert "[paint] price, covers_m2" in quote(painted, Prices()).missing
    assert "[paint] price, covers_m2" not in quote(job(), Prices()).missing


def test_no_price_is_invented() -> None:
    made = quote(job(), Prices())
    assert made.items == () and made.cost is None and made.price is None
    told = " ".join(made.missing)
    for part in ("[[sheet]]", "[blade]", "[tape]", "[labour]", "[overhead]", "currency"):
        assert part in told
    assert "price of one" not in "\n".join(quote_lines(made, ENGLISH))
    assert one_more_lines(made, made, 3, ENGLISH) == []


def test_one_more_in_the_stack(prices: Prices) -> None:
    """Sawing goes with the depth to its power, everything else stays; runs get fewer."""
    now = job(copies=6, stack=1)
    then = one_more(now, rates_for("practised"))
    rates = rates_for("practised")
    deep = replace(now.plan.board, stack=2)
    ratio = sum(feed_amount(cut_features(c, deep), rates).seconds for c in now.plan.cuts) / sum(
        feed_amount(cut_features(c, now.plan.board), rates).seconds for c in now.plan.cuts
    )
    assert 1.0 < ratio < 2**0.8
    sawing = sum(s.minutes.likely for s in now.plan.steps if s.stage == "cut")
    scale = 60.0 / now.plan.minutes.likely
    assert then.minutes_a_run == pytest.approx(60.0 + sawing * scale * (ratio - 1))
    assert (now.runs, then.runs, then.stack) == (6, 3, 2)
    a, b = quote(now, prices), quote(then, prices)
    assert a.price is not None and b.price is not None and b.price < a.price
    lines = one_more_lines(a, b, 1, ENGLISH)
    assert "With 2 in the stack: 3 runs" in lines[0] and "(-" in lines[0]
    assert "no more than 1" in lines[1]


def test_minutes_come_from_the_log_when_it_knows() -> None:
    made = plan()
    assert typical_minutes(made, [9.0, 8.0]) == (made.minutes.likely, 0)
    assert typical_minutes(made, [50.0, 9.0, 8.0, 7.0, 90.0, 6.0]) == (8.0, 5)


def test_the_page_holds_every_row(prices: Prices) -> None:
    pdfium = pytest.importorskip("pypdfium2")
    rows = [(f"what {i}", "how it was reckoned " * 6, f"{i}.00 EUR") for i in range(60)]
    content = quote_page("Sign", rows, ["Rounded once."], bold=[59])
    assert content == quote_page("Sign", rows, ["Rounded once."], bold=[59])
    document = pdfium.PdfDocument(content)
    assert len(document) > 1
    text = "".join(document[i].get_textpage().get_text_range() for i in range(len(document)))
    assert all(f"what {i}" in text and f"{i}.00 EUR" in text for i in range(60))


# ------------------------------------------------------------- prices


@pytest.mark.parametrize(
    "text",
    ["x", "[blade]\nprice = -1", "[blade]\nprise = 1", "[profit]\nmargin_percent = 100",
     "[profit]\nmargin_percent = 1\nmarkup_percent = 1", "[blade]\nprice = true",
     "[blade]\nprice = nan", "[drill]\nholes = 0", "[[sheet]]\nprice = 1", "decimals = 9",
     '[overhead]\nof = "all"', EXAMPLE],
)  # fmt: skip
def test_prices_that_cannot_be_are_told(text: str, tmp_path: Path) -> None:
    path = tmp_path / "prices.toml"
    path.write_text(text)
    with pytest.raises(ShopError):
        load_prices(path)


def test_prices_stay_decimal(tmp_path: Path) -> None:
    path = tmp_path / "prices.toml"
    path.write_text("[blade]\nprice = 0.1\n")
    assert load_prices(path).blade == D("0.1")
    assert load_prices(tmp_path / "none.toml") == Prices()


# ------------------------------------------------------------- the verb


def test_the_verb(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("KERFSIDE_HOME", str(tmp_path))
    drawing = tmp_path / "ring.svg"
    drawing.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="80mm" height="80mm" viewBox="0 0 80 80">'
        '<path fill-rule="evenodd" d="M5 5H75V75H5ZM25 25H55V55H25Z"/></svg>'
    )
    asked = ["review", str(drawing), "--cost", "10"]
    assert main(asked) == 2
    out = capsys.readouterr().out
    assert "not told  [labour] per_hour" in out and "It may hold:" in out
    (tmp_path / "prices.toml").write_text(FULL)
    for form in ("txt", "csv", "pdf"):
        to = tmp_path / f"q.{form}"
        assert main([*asked, "--quote", str(to)]) == 0
        assert to.stat().st_size > 200
    out = capsys.readouterr().out
    assert "price of one" in out and "With 2 in the stack" in out
    assert (tmp_path / "q.pdf").read_bytes().startswith(b"%PDF")
    assert main(["review", "--cost", "3"]) == 2
    assert main([*asked, "--quote", "q.doc"]) == 2
    # a project that is oiled twice: two coats, without a number of the prices
    assert main(["new", str(drawing), str(tmp_path / "oiled"), "--finish", "oil",
                 "--no-questions"]) == 0  # fmt: skip
    (tmp_path / "prices.toml").write_text(FULL.replace("coats = 2\n", ""))
    capsys.readouterr()
    assert main(["review", str(tmp_path / "oiled"), "--cost", "10"]) == 0
    assert "coats: 2; as planned" in capsys.readouterr().out
    assert main(["review", str(drawing), "--quote", "q.txt"]) == 2
    assert main(["review", str(drawing), "--cost", "0"]) == 2


def asked_with(answers: list[str], home: Path, boards: list[tuple[str, float]]) -> Prices:
    """What is kept after these answers, each to the next question."""
    left = iter(answers)
    asked = []

    def answer(question: str) -> str:
        asked.append(question)
        return next(left)

    found = ask_prices(ENGLISH, boards, answer)
    assert next(left, None) is None, asked
    assert load_prices(home / "prices.toml") == found
    return found


def test_prices_are_asked_once_and_kept_to_the_digit(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("KERFSIDE_HOME", str(tmp_path))
    every = [
        "EUR", "2", "18,50", "10", "15", "labour", "30 % margin", "0.425", "1.20", "80",
        "6.90", "50", "", "14.95", "600mm", "1200mm", "3mm",
    ]  # fmt: skip
    found = asked_with(every, tmp_path, [("mdf", 6.0)])
    assert found.per_hour == D("18.50") and found.blade == D("0.425")
    assert found.margin_percent == 30 and found.markup_percent is None and found.paint is None
    assert found.sheets == (SheetPrice("mdf", D(6), D(600), D(1200), D("14.95"), D(3)),)
    assert "per_hour = 18.50\n" in (tmp_path / "prices.toml").read_text()
    # asked again: what is not answered stays
    again = asked_with([""] * 6 + ["40 markup"] + [""] * 6 + [""], tmp_path, [("mdf", 6.0)])
    assert again.markup_percent == 40 and again.margin_percent is None
    assert replace(again, markup_percent=None, margin_percent=D(30)) == found
    # what will not do is told, and asked again; a board can be named
    more = asked_with(["", "9", "many", "0", *[""] * 11, "oak-cheese 6", "birch-plywood 4mm", "9",
                       "500", "500", "", ""], tmp_path, [])  # fmt: skip
    assert more.decimals == 0 and len(more.sheets) == 2
    out = capsys.readouterr().out
    assert "must be 0 to 4" in out and "oak-cheese" in out


def test_a_commented_file_is_kept_beside(tmp_path: Path) -> None:
    path = tmp_path / "prices.toml"
    path.write_text(FULL + "# bought at the harbour\n")
    save_prices(load_prices(path), path)
    assert "bought at the harbour" in (tmp_path / "prices.toml.old").read_text()
    (tmp_path / "prices.toml.old").unlink()
    save_prices(load_prices(path), path)
    assert not (tmp_path / "prices.toml.old").exists()


@pytest.mark.parametrize(("field", "text"), [("paint_coats", "100"), ("tape_m", "0")])
def test_a_typed_price_that_will_not_do_is_told_without_a_file(field: str, text: str) -> None:
    with pytest.raises(ShopError) as told:
        with_price(Prices(), field, text)
    assert str(told.value).startswith("the answer ") and "toml" not in str(told.value)
    assert field != "paint_coats" or "0 to 20" in str(told.value)
    assert with_price(Prices(), "paint_coats", "2").paint_coats == 2
    assert with_price(Prices(paint_coats=D(2)), "paint_coats", "plan").paint_coats is None
