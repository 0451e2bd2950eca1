"""Lawler's rule: an order whose largest cost is the least there is, under precedence.

The rule kept here (1|prec|f_max; E. L. Lawler, Management Science 19, 1973): fill the
LAST place first, each time with the allowed job that costs least when all others are
done too. It is exact for costs that never fall as more is done, which is what the
board's give does. Near-ties, and jobs that had better come late, use only what freedom
is left: the least cost at any place is one that no order avoids, so any allowed job
that costs no more may take that place.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from companion.errors import PlanError
from companion.planner.plate import Floats

SAME = 1e-6
"""Weaknesses this close, relative, are equal: rounding must not decide."""
NEAR = 0.05
"""Weaknesses this close, relative, count as a near-tie: then the shorter move decides."""

Progress = Callable[[float], None]
"""Told the share done, 0 to 1."""


@dataclass(frozen=True)
class Filled:
    """What :func:`fill_from_last` found."""

    order: tuple[int, ...]
    """Indices, first to last."""
    cost: tuple[float, ...]
    """Of each when its turn comes; an upper bound where places shared a state."""
    if_last: tuple[float, ...]
    """Of each had it come as late as its successors allow."""
    bound: float
    """No order whatever has a largest cost below this."""


def fill_from_last(
    before: Sequence[frozenset[int]],
    cost: Callable[[Sequence[int], Sequence[int]], Floats],
    late: Callable[[int, int | None], tuple[float, ...]] | None = None,
    patient: frozenset[int] = frozenset(),
    most: int = 1,
    tell: Progress | None = None,
) -> Filled:
    """Lawler's rule with its free choices used.

    Args:
        before: for each job the jobs that come earlier.
        cost: ``cost(gone, asked)``: what each asked job costs when all of ``gone``,
            itself included, is done; must not fall as ``gone`` grows.
        late: ``late(job, following)``: among equals the job with the least of these
            takes the place just before ``following`` (None: the last place).
        patient: jobs that go late whenever that cannot hurt, not only in near-ties.
        most: places filled from one state; with more than 1 the costs told are upper
            bounds, the largest of them is still the least there is.
        tell: told the share done.

    Returns:
        The order; its largest cost is the least there is.

    Raises:
        PlanError: the jobs wait for each other in a circle.
    """
    filler = _Filler(before, cost, late, patient, most, tell)
    filler.run(0.0, strict=False)
    bound = max(filler.least, default=0.0)
    over = [k for k, c in enumerate(filler.paid) if c > bound * (1 + SAME)]
    if over:
        # A near-tie was dearer than need be: back to it, now knowing the bound. What is
        # chosen from here on costs no more than the bound of the states gone through.
        filler.back_to(over[0])
        filler.run(bound, strict=True)
        bound = max(bound, *filler.least)
    order = tuple(reversed(filler.picks))
    return Filled(
        order, tuple(reversed(filler.paid)), tuple(filler.if_last[i] for i in order), bound
    )


class _Filler:
    """The places filled so far, from the last one on, and what they cost."""

    def __init__(
        self,
        before: Sequence[frozenset[int]],
        cost: Callable[[Sequence[int], Sequence[int]], Floats],
        late: Callable[[int, int | None], tuple[float, ...]] | None,
        patient: frozenset[int],
        most: int,
        tell: Progress | None,
    ) -> None:
        self._before, self._cost, self._late = before, cost, late
        self._patient, self._most, self._tell = patient, most, tell
        self.picks: list[int] = []
        self.paid: list[float] = []
        self.least: list[float] = []
        """Least cost among those allowed at each place: no order can do with less."""
        self.if_last: dict[int, float] = {}
        self._told = 0.0

    def back_to(self, place: int) -> None:
        """Empty all places from this one on, counted from the last."""
        del self.picks[place:], self.paid[place:], self.least[place:]

    def run(self, cap: float, strict: bool) -> None:
        """Fill all places that are left.

        Args:
            cap: a cost that is known to be unavoidable, for the places filled already too.
            strict: near-ties must not cost more than what is unavoidable.
        """
        count = len(self._before)
        gone = set(range(count)).difference(self.picks)
        waiting = [0] * count  # how many later ones are not placed yet
        for i in gone:
            for j in self._before[i]:
                waiting[j] += 1
        level = cap
        while gone:
            asked = sorted(i for i in gone if not waiting[i])
            if not asked:
                raise PlanError("cuts enclose each other in a circle", "", "Check the drawing.")
            costs = self._cost(sorted(gone), asked)
            level = max(level, float(costs.min()))
            for pick in self._choose(asked, costs, level, strict):
                gone.discard(pick)
                for j in self._before[pick]:
                    waiting[j] -= 1
            share = len(self.picks) / count
            self._told = max(self._told, share)
            if self._tell:
                self._tell(self._told)

    def _choose(
        self, asked: Sequence[int], costs: Floats, level: float, strict: bool
    ) -> Sequence[int]:
        """Fill one place, or up to ``most``, from one state."""
        least = float(costs.min())
        price = dict(zip(asked, map(float, costs), strict=True))
        for i, c in price.items():
            self.if_last.setdefault(i, c)
        harmless = level * (1 + SAME)
        near = least * (1 + NEAR)
        pool = [
            i
            for i in asked
            if (price[i] <= near and (price[i] <= harmless or not strict))
            or (price[i] <= harmless and i in self._patient)
        ]
        chosen: list[int] = []
        for _ in range(min(self._most, len(pool))):
            following = self.picks[-1] if self.picks else None
            pick = min(pool, key=lambda i: ((self._late(i, following) if self._late else ()), i))
            pool.remove(pick)
            chosen.append(pick)
            self.picks.append(pick)
            self.paid.append(price[pick])
            self.least.append(least)
        return chosen
