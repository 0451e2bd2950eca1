"""Minutes: features from geometry, sums with their range, the levels' order."""

from __future__ import annotations

import math
import random
import statistics

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.planner.plan import EMPTY, Z80, Board, Cut, Minutes, Speed, Turn, ranges_left
from companion.planner.timing import (
    NO_CALIBRATION,
    NOTHING,
    Calibration,
    Features,
    cut_amount,
    cut_features,
    cut_minutes,
    features_of,
    feed_amount,
    lengths_by_curvature,
    rates_for,
    spread_amount,
    task,
    together,
)

Line = tuple[tuple[float, float], ...]
BOARD = Board("mdf", 6.0, 1, 200.0, 200.0)


def circle(r: float, step_mm: float = 0.3) -> Line:
    n = max(24, math.ceil(2 * math.pi * r / step_mm))
    points = [
        (r * math.cos(2 * math.pi * k / n), r * math.sin(2 * math.pi * k / n)) for k in range(n)
    ]
    return (*points, points[0])


def features(**changes: float | str) -> Features:
    base: dict[str, float | str] = {
        "side": "inside", "threads": 1, "straight_mm": 100.0, "curved_mm": 0.0, "tight_mm": 0.0,
        "spins": 0, "back_outs": 0, "loops": 0, "depth_mm": 6.0, "feed_factor": 1.0,
    }  # fmt: skip
    return Features(**(base | changes))  # type: ignore[arg-type]


def test_ranges_left_are_the_range_of_the_sum_and_not_the_sum_of_ranges() -> None:
    rates = rates_for("practised")
    some = [task(rates, name) for name in ("thread", "lip", "clear", "spin") * 2]
    amounts = [*some, NOTHING, *some, *some, NOTHING]
    parts = [a.minutes(rates.common_spread) for a in amounts]
    left = ranges_left(parts, rates.common_spread)
    assert len(left) == len(parts) + 1
    for first in range(len(amounts)):
        whole = together(amounts[first:], rates)
        for end in ("low", "likely", "high"):
            assert getattr(left[first], end) == pytest.approx(getattr(whole, end), rel=1e-9)
    bound_by_bound = sum((p.high for p in parts), 0.0)
    assert left[0].high < 0.95 * bound_by_bound


def test_a_circle_falls_into_the_class_of_its_radius() -> None:
    for radius, place in ((1.5, 2), (6.0, 1), (40.0, 0)):
        parts = lengths_by_curvature(circle(radius), 2.5, 10.0)
        assert parts[place] == pytest.approx(2 * math.pi * radius, rel=0.01)
        assert sum(parts) == pytest.approx(2 * math.pi * radius, rel=0.01)


@given(st.floats(0.5, 50), st.floats(0.1, 1.0))
def test_the_classes_always_add_up_to_the_length(radius: float, step: float) -> None:
    line = circle(radius, step)
    length = sum(math.dist(a, b) for a, b in zip(line, line[1:], strict=False))
    parts = lengths_by_curvature(line, 2.5, 10.0)
    assert sum(parts) == pytest.approx(length)
    assert min(parts) >= 0.0


@given(st.floats(0, 360), st.booleans())
def test_turning_or_mirroring_the_line_changes_nothing(angle: float, mirror: bool) -> None:
    base: Line = ((0, 0), (30, 0), (30, 8), (12, 9), (4, 20), (0, 0))
    c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    sign = -1.0 if mirror else 1.0
    moved = tuple((sign * (x * c - y * s), x * s + y * c) for x, y in base)
    assert lengths_by_curvature(moved, 2.5, 10.0) == pytest.approx(
        lengths_by_curvature(base, 2.5, 10.0), abs=1e-6
    )


def test_degenerate_lines_have_no_length() -> None:
    assert lengths_by_curvature((), 2.5, 10.0) == (0.0, 0.0, 0.0)
    assert lengths_by_curvature(((1, 1), (1, 1)), 2.5, 10.0) == (0.0, 0.0, 0.0)


def test_features_of_a_planned_cut_count_threads_turns_and_lead() -> None:
    line = circle(40.0)
    cut = Cut(
        number=1, side="outside", hole=1, length_mm=251.3, start_mm=line[0],
        direction="clockwise", line_mm=line, speed=Speed(5, 10),
        turns=(Turn((0, 0), 90, "spin"), Turn((0, 0), 150, "loop"), Turn((0, 0), 100, "back-out")),
        weakness=0, hold_mm=(), minutes=Minutes(0, 0, 0), lead_mm=((45.0, 0.0), (40.0, 0.0)),
    )  # fmt: skip
    found = cut_features(cut, Board("basswood", 3.0, 2, 100, 100))
    assert (found.threads, found.spins, found.back_outs, found.loops) == (1, 1, 1, 1)
    assert found.depth_mm == 6.0
    assert found.feed_factor == 1.2
    assert found.length_mm == pytest.approx(2 * math.pi * 40 + 5.0, rel=1e-3)
    assert cut_features(cut, BOARD) == cut_features(cut, BOARD)


def test_minutes_of_a_straight_cut_by_hand() -> None:
    """220 mm at 220 mm/min: one minute; with thread 50, lip 12 and clear 10 s: 2.2 min."""
    rates = rates_for("practised")
    f = features(straight_mm=220.0)
    assert feed_amount(f, rates).seconds == pytest.approx(60.0)
    assert cut_minutes(f, rates).likely == pytest.approx((60 + 50 + 12 + 10) / 60)


def test_more_work_takes_longer() -> None:
    rates = rates_for("practised")
    plain = cut_amount(features(), rates).seconds
    for more in (
        {"straight_mm": 150.0}, {"straight_mm": 50.0, "tight_mm": 50.0},
        {"straight_mm": 50.0, "curved_mm": 50.0}, {"spins": 1}, {"back_outs": 1}, {"loops": 1},
        {"depth_mm": 12.0}, {"feed_factor": 0.6}, {"threads": 2}, {"side": "outside"},
    ):  # fmt: skip
        assert cut_amount(features(**more), rates).seconds > plain, more


def test_levels_and_calibration_scale_as_they_say() -> None:
    f = features(spins=2)
    slow, usual = (cut_minutes(f, rates_for(s)).likely for s in ("beginner", "practised"))
    assert slow == pytest.approx(1.5 * usual)
    twice = rates_for("practised", Calibration(thread=2, feed=2, turn=2, clear=2))
    assert cut_minutes(f, twice).likely == pytest.approx(2 * usual)
    sure = rates_for("practised", Calibration(spread=0.1))
    wide, narrow = cut_minutes(f, rates_for("practised", NO_CALIBRATION)), cut_minutes(f, sure)
    assert narrow.high - narrow.low < 0.2 * (wide.high - wide.low)


def test_the_range_holds_four_times_in_five() -> None:
    """Drawn from the model itself: 80 % within, each tail 10 %, over 4,000 plans of 10 cuts."""
    rates = rates_for("practised")
    seconds, sigma, common = 100.0, rates.task_spread, rates.common_spread
    promised = together([spread_amount(seconds, sigma)] * 10, rates)
    chance = random.Random(5)
    real = []
    for _ in range(4000):
        day = math.exp(chance.gauss(0.0, common))
        real.append(day * sum(seconds * math.exp(chance.gauss(0.0, sigma)) for _ in range(10)))
    inside = statistics.fmean(promised.low * 60 <= r <= promised.high * 60 for r in real)
    assert 0.75 <= inside <= 0.85


def test_chance_averages_out_in_a_sum_but_a_slow_day_does_not() -> None:
    rates = rates_for("practised")
    one = together([task(rates, "thread")], rates)
    many = together([task(rates, "thread")] * 100, rates)
    assert many.likely == pytest.approx(100 * one.likely)
    assert many.high / many.likely < one.high / one.likely
    assert many.high / many.likely > math.exp(Z80 * rates.common_spread)


@given(st.floats(0, 2000), st.floats(0, 2000), st.integers(0, 40))
def test_low_likely_high_always_stand_in_order(straight: float, tight: float, spins: int) -> None:
    f = features(straight_mm=straight, tight_mm=tight, spins=spins)
    got = cut_minutes(f, rates_for("beginner"))
    assert 0.0 < got.low < got.likely < got.high


def test_nothing_takes_no_time() -> None:
    assert NOTHING.minutes(0.15) == EMPTY.minutes


def test_pace_is_of_the_published_diarys_order() -> None:
    """A pattern cutter's diary (2012): 10 x 10 in sheets, 10 to 13 pieces, 12 to 20 min each.

    An order of magnitude only: neither thickness nor pattern are told.

    A sheet of 3 x 4 pieces has about 5 inner lines and the outline, wavy by half again;
    the cuts run into each other, so one threading each is too many: the cutter enters
    from the edge and never threads.
    """
    length = 1.5 * 5 * 254.0
    f = features_of("outside", ((0, 0), (length / 2, 0), (0, 0)), (), [], 6.0, "mdf")
    minutes = feed_amount(f, rates_for("terse")).seconds / 60
    assert 5.0 <= minutes <= 20.0
