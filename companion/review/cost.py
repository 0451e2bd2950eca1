"""What a batch costs: material, wear, minutes, overhead, and the price that follows.

Everything is worked out from a plan, the user's own prices and a number of copies. A
price that is needed and not told makes a missing line, and then there is no total.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from companion.planner.plan import POWERED_STAGES, Plan
from companion.planner.timing import Rates, cut_features, feed_amount
from companion.review.money import at_margin, at_markup, job_cost, overhead
from companion.review.nesting import Layout, lay_blanks
from companion.review.worktime import standard_time
from companion.shop.model import FinishStep
from companion.shop.prices import Prices, SheetPrice
from companion.words import ENGLISH, Words

MM2_PER_M2 = 1_000_000.0
SAME_MM = 0.05
"""Two thicknesses no further apart are the same."""


@dataclass(frozen=True, slots=True)
class Job:
    """What is made."""

    plan: Plan
    copies: int
    minutes_a_run: float
    """Likely minutes of one run, all its steps."""
    from_log: int = 0
    """Finished runs these minutes come from; 0: from the plan."""
    finish: tuple[FinishStep, ...] = ()
    """How the pieces are finished; its coats are priced unless the prices tell their own."""

    @property
    def stack(self) -> int:
        """Boards cut at once."""
        return max(1, self.plan.board.stack)

    @property
    def runs(self) -> int:
        """Runs it takes; the last stack may be smaller, but takes about as long."""
        return -(-self.copies // self.stack)


@dataclass(frozen=True, slots=True)
class Item:
    """One line of the cost."""

    name: str
    detail: str
    """How it was reckoned."""
    amount: Decimal
    """For the whole batch, unrounded."""
    kind: str
    """``material``, ``labour`` or ``overhead``."""


@dataclass(frozen=True, slots=True)
class Quote:
    """The whole of it."""

    job: Job
    prices: Prices
    items: tuple[Item, ...]
    missing: tuple[str, ...]
    """Prices that are needed and not told; then ``cost`` and ``price`` are None."""
    cost: Decimal | None
    price: Decimal | None
    """For the whole batch."""
    layout: Layout | None
    """Blanks on a sheet; None without a fitting sheet."""
    sheets: int
    """Sheets to buy when nothing is in the rack; 0: not known."""

    def each(self, amount: Decimal) -> Decimal:
        """Of one copy."""
        return amount / self.job.copies


def quote(job: Job, prices: Prices, words: Words = ENGLISH) -> Quote:
    """Work the batch out."""
    missing: list[str] = []
    items: list[Item] = []
    layout, sheets = _boards(job, prices, items, missing, words)
    _wear(job, prices, items, missing, words)
    _paint(job, prices, items, missing, words)
    _labour(job, prices, items, missing, words)
    _overhead(prices, items, missing, words)
    if not prices.currency:
        missing.append(words.say("currency"))
    cost = None if missing else job_cost(i.amount for i in items)
    return Quote(job, prices, tuple(items), tuple(missing), cost, _price(cost, prices), layout,
                 sheets)  # fmt: skip


def _price(cost: Decimal | None, prices: Prices) -> Decimal | None:
    if cost is None:
        return None
    if prices.margin_percent is not None:
        return at_margin(cost, prices.margin_percent)
    return at_markup(cost, prices.markup_percent or Decimal(0))


def _boards(
    job: Job, prices: Prices, items: list[Item], missing: list[str], words: Words
) -> tuple[Layout | None, int]:
    board = job.plan.board
    fitting = [s for s in prices.sheets if s.material == board.material and abs(
        float(s.thickness_mm) - board.thickness_mm) < SAME_MM]  # fmt: skip
    best: tuple[Decimal, SheetPrice, Layout] | None = None
    for sheet in fitting:
        whole = (float(sheet.width_mm), float(sheet.height_mm))
        layout = lay_blanks(whole, (board.width_mm, board.height_mm), float(sheet.saw_kerf_mm))
        if layout.blanks:
            each = sheet.price / len(layout.blanks)
            if best is None or each < best[0]:
                best = (each, sheet, layout)
    if best is None:
        missing.append(words.say(
            "[[sheet]] of {material}, {thick} mm, that holds a blank of {w} x {h} mm",
            material=board.material, thick=f"{board.thickness_mm:g}",
            w=f"{board.width_mm:.0f}", h=f"{board.height_mm:.0f}",
        ))  # fmt: skip
        return None, 0
    each, sheet, layout = best
    blanks = job.copies
    sheets = -(-blanks // len(layout.blanks))
    detail = words.count("{n} blank", "{n} blanks", blanks) + words.say(
        "; a sheet of {w} x {h} mm gives {per}; buy {sheets}", w=f"{sheet.width_mm:f}",
        h=f"{sheet.height_mm:f}", per=len(layout.blanks), sheets=sheets,
    )  # fmt: skip
    items.append(Item(words.say("boards"), detail, each * blanks, "material"))
    return layout, sheets


def _wear(job: Job, prices: Prices, items: list[Item], missing: list[str], words: Words) -> None:
    plan = job.plan
    blades = plan.blade.blades_needed * job.runs
    if prices.blade is None:
        missing.append("[blade] price")
    else:
        detail = words.say("{n} of size {size}", n=blades, size=plan.blade.number)
        items.append(Item(words.say("blades"), detail, prices.blade * blades, "material"))
    holes = len(plan.drilled) * job.runs
    if holes and (prices.drill is None or prices.drill_holes is None):
        missing.append("[drill] price, holes")
    elif holes and prices.drill is not None and prices.drill_holes is not None:
        detail = words.count("{n} hole", "{n} holes", holes)
        items.append(
            Item(words.say("drills"), detail, prices.drill * holes / prices.drill_holes, "material")
        )
    if job.stack > 1 and not plan.fasteners_mm:
        if prices.tape is None or prices.tape_m is None:
            missing.append("[tape] price, length_m")
            return
        around = 2 * (plan.board.width_mm + plan.board.height_mm) / 1000.0
        metres = Decimal(f"{around * job.runs:.3f}")
        detail = words.say("{m} m around the stacks", m=f"{metres:f}")
        items.append(Item(words.say("tape"), detail, prices.tape * metres / prices.tape_m,
                          "material"))  # fmt: skip


def _paint(job: Job, prices: Prices, items: list[Item], missing: list[str], words: Words) -> None:
    """The coats the sawyer told, or else those of the finish; none: the pieces stay bare."""
    coats, on_edges = prices.paint_coats, Decimal(0)
    if coats is None:
        coats, on_edges = (
            Decimal(sum(s.lays == where for s in job.finish)) for where in ("all", "edges")
        )
    if not coats and not on_edges:
        return
    if prices.paint is None or prices.paint_m2 is None:
        missing.append("[paint] price, covers_m2")
        return
    plan = job.plan
    around_mm = sum(c.length_mm for c in plan.cuts if not c.is_vein)
    around_mm += sum(hole.around_mm for hole in plan.to_size)
    edges_mm2 = around_mm * plan.board.thickness_mm
    whole = Decimal(f"{(2 * plan.kept_area_mm2 + edges_mm2) / MM2_PER_M2:.6f}") * job.copies
    edges = Decimal(f"{edges_mm2 / MM2_PER_M2:.6f}") * job.copies
    parts = []
    if coats:
        parts.append(words.say("{area} m2, faces and edges, coats: {coats}", area=f"{whole:.3f}",
                               coats=f"{coats:f}"))  # fmt: skip
    if on_edges:
        parts.append(words.say("{area} m2, edges alone, coats: {coats}", area=f"{edges:.3f}",
                               coats=f"{on_edges:f}"))  # fmt: skip
    if prices.paint_coats is None:
        parts.append(words.say("as planned"))
    amount = prices.paint * (whole * coats + edges * on_edges) / prices.paint_m2
    items.append(Item(words.say("coating"), "; ".join(parts), amount, "material"))


def _labour(job: Job, prices: Prices, items: list[Item], missing: list[str], words: Words) -> None:
    if prices.per_hour is None:
        missing.append("[labour] per_hour")
        return
    share = float(prices.allowance_percent) / 100.0
    minutes = Decimal(f"{standard_time(job.minutes_a_run * job.runs, share):.4f}")
    whence = words.say("as planned")
    if job.from_log:
        whence = words.count("from {n} finished run", "from {n} finished runs", job.from_log)
    runs = words.count("{n} run", "{n} runs", job.runs)
    detail = words.say("{time} in {runs}, {whence}", time=words.duration(float(minutes)), runs=runs,
                       whence=whence)  # fmt: skip
    items.append(Item(words.say("labour"), detail, minutes / 60 * prices.per_hour, "labour"))


def _overhead(prices: Prices, items: list[Item], missing: list[str], words: Words) -> None:
    if prices.overhead_percent is None:
        missing.append("[overhead] percent")
        return
    kinds = {"materials": ("material",), "labour": ("labour",), "both": ("material", "labour")}
    base = job_cost(i.amount for i in items if i.kind in kinds[prices.overhead_of])
    of = {"materials": words.say("materials"), "labour": words.say("labour"),
          "both": words.say("materials and labour")}[prices.overhead_of]  # fmt: skip
    detail = words.say("{percent} % of {base}", percent=f"{prices.overhead_percent:f}", base=of)
    amount = overhead(base, prices.overhead_percent)
    items.append(Item(words.say("overhead"), detail, amount, "overhead"))


def one_more(job: Job, rates: Rates) -> Job:
    """The same batch with one more board in the stack: deeper wood, fewer runs.

    Only the time along the lines goes with the depth; blades go with the sawing.
    """
    plan = job.plan
    deeper = replace(plan.board, stack=job.stack + 1)
    now = sum(feed_amount(cut_features(c, plan.board), rates).seconds for c in plan.cuts)
    then = sum(feed_amount(cut_features(c, deeper), rates).seconds for c in plan.cuts)
    sawing = sum(s.minutes.likely for s in plan.steps if s.stage in POWERED_STAGES)
    share = then / now if now > 0.0 else 1.0
    # what the log knows of the run is kept in proportion
    scale = job.minutes_a_run / plan.minutes.likely if plan.minutes.likely > 0.0 else 1.0
    minutes = job.minutes_a_run + sawing * scale * (share - 1.0)
    blades = math.ceil(plan.blade.blades_needed * share - 1e-9)
    other = replace(plan, board=deeper, blade=replace(plan.blade, blades_needed=blades))
    return replace(job, plan=other, minutes_a_run=minutes)


def typical_minutes(plan: Plan, finished: Sequence[float]) -> tuple[float, int]:
    """Minutes of one run and how many finished runs they come from; three at least."""
    if len(finished) < 3:
        return plan.minutes.likely, 0
    newest = sorted(finished[-5:])
    return newest[len(newest) // 2], len(newest)
