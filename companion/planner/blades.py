"""Which blade, how fast, and how many of them.

The size comes from the total thickness, a size up for hard or gritty stuff and
down for tight detail; whatever the table says, the blade must pass a drill of the
user's own set that fits the tightest opening. The speed is told on the user's own
dial: inside slower, outside faster.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from companion.findings import Finding
from companion.planner.plan import Side, Speed
from companion.shop import tables
from companion.shop.model import BladeSize, Drill, Material, Settings
from companion.units import MM_PER_INCH
from companion.words import ENGLISH, Words


@dataclass(frozen=True, slots=True)
class Detail:
    """The tightest that the pattern asks of a blade."""

    opening_mm: float
    """Diameter of the largest circle that fits the tightest opening; inf when there is none."""
    clearance_mm: float
    """Wood that must stay between a hole's rim and the line."""
    slack_mm: float
    """A drill passes a blade when it is wider than its diagonal by this."""
    stroke_mm: float = math.inf
    """Mean width of the slenderest piece's strokes; inf when it does not matter."""


def stroke_mm(area_mm2: float, around_mm: float) -> float:
    """Mean width of a piece made of strokes.

    A strip of width w and length L has the area w L and an outline of about 2 L.

    >>> stroke_mm(300.0, 206.0)  # a strip of 100 x 3 mm
    2.912621359223301
    """
    return 2.0 * area_mm2 / around_mm if around_mm > 0.0 else math.inf


@dataclass(frozen=True, slots=True)
class BladeChosen:
    """The blade and what is to be said about it."""

    blade: BladeSize
    why: str
    findings: tuple[Finding, ...]


def choose_blade(
    material: Material,
    depth_mm: float,
    detail: Detail,
    settings: Settings,
    asked: str | None = None,
    words: Words = ENGLISH,
) -> BladeChosen:
    """Choose the size.

    Args:
        material: of the board.
        depth_mm: thickness times stack.
        detail: the tightest of the pattern.
        settings: for the drill set and the level.
        asked: the user's own number; taken as it is.
        words: the language.

    Raises:
        ShopError: an unknown blade number.
    """
    if asked is not None:
        blade = tables.blade(asked)
        return BladeChosen(blade, words.say("You asked for it."), _warned(blade, depth_mm, words))
    sizes = tables.blades()
    row = next(
        (c for c in tables.blade_choices() if depth_mm <= c.up_to_mm), tables.blade_choices()[-1]
    )
    steps_down = _steps_down(detail)
    # a practised hand takes the finer one of the row; the thicker forgives more
    named = row.usual if settings.skill == "beginner" or not steps_down else row.fine
    place = sizes.index(tables.blade(named)) + material.blade_shift - steps_down
    wanted = min(max(place, 0), len(sizes) - 1)
    entering = wanted
    while entering > 0 and not _enters(sizes[entering], detail, settings.drills):
        entering -= 1
    blade = _toothed(sizes[: entering + 1], depth_mm)
    if blade != sizes[entering]:
        why = words.say("A thicker one has fewer than {least} teeth in {depth} mm of wood.",
                        least=f"{_least_teeth():g}", depth=f"{depth_mm:g}")  # fmt: skip
    elif entering < wanted:
        why = words.say("The tightest opening lets no thicker one in.")
    elif steps_down:
        why = words.say("Finer than usual for this thickness, because the detail is tight.")
    else:
        why = words.say("Usual for {depth} mm of {material}.", depth=f"{depth_mm:g}",
                        material=words.say(material.name))  # fmt: skip
    return BladeChosen(blade, why, _warned(blade, depth_mm, words))


def _steps_down(detail: Detail) -> int:
    """One size down when detail is tight, one more for each half of that width."""
    most = int(tables.number("blades", "detail.most_steps_down", 0, 8))
    asked = (
        (detail.opening_mm, tables.number("blades", "detail.tight_mm", 0.1, 100)),
        (detail.stroke_mm, tables.number("blades", "detail.slender_mm", 0.1, 100)),
    )
    steps = [
        1 + int(math.log2(limit / max(width, 1e-3))) for width, limit in asked if width < limit
    ]
    return min(most, max(steps, default=0))


def passing(blade: BladeSize, drills: Sequence[Drill], slack_mm: float) -> tuple[Drill, ...]:
    """The drills whose hole a blade can be threaded through, thinnest first.

    Args:
        blade: its diagonal must pass.
        drills: of a set.
        slack_mm: a hole is at least so much wider than the diagonal.
    """
    need = blade.passes_mm + slack_mm - 1e-9
    thick = [d for d in drills if d.diameter_mm >= need]
    return tuple(sorted(thick, key=lambda d: (d.diameter_mm, d.name)))


def _enters(blade: BladeSize, detail: Detail, drills: tuple[Drill, ...]) -> bool:
    fits = passing(blade, drills, detail.slack_mm)
    return bool(fits) and fits[0].diameter_mm + 2 * detail.clearance_mm <= detail.opening_mm


def teeth_in(blade: BladeSize, depth_mm: float) -> float:
    """Teeth of a blade that are in the wood at once."""
    return depth_mm * blade.tpi / MM_PER_INCH


def _least_teeth() -> float:
    return tables.number("blades", "teeth.least_in_work", 1, 10)


def _toothed(sizes: Sequence[BladeSize], depth_mm: float) -> BladeSize:
    """The thickest of some blades that keeps the least teeth in the wood.

    A thicker blade may have finer teeth than a thinner one; when none has enough, the
    one with the most.
    """
    least = _least_teeth() * tables.limit("teeth-few").value
    enough = [b for b in sizes if teeth_in(b, depth_mm) >= least]
    return enough[-1] if enough else max(sizes, key=lambda b: b.tpi)


def finer_exists(blade: BladeSize) -> bool:
    """Whether the shop knows a thinner blade, so that one may be advised."""
    return any(b.passes_mm < blade.passes_mm for b in tables.every_blade())


def _warned(blade: BladeSize, depth_mm: float, words: Words) -> tuple[Finding, ...]:
    found = []
    few = tables.limit("teeth-few")
    least = _least_teeth()
    teeth = teeth_in(blade, depth_mm)
    if teeth < least * few.value:
        finer = any(
            b.passes_mm < blade.passes_mm and teeth_in(b, depth_mm) >= least * few.value
            for b in tables.every_blade()
        )
        found.append(
            Finding(
                few.code, few.severity, None,
                words.say("Blade {number} has {teeth} teeth in {depth} mm of wood; at least "
                          "{least} keep it from catching.", number=blade.number,
                          teeth=f"{teeth:.1f}", depth=f"{depth_mm:g}", least=f"{least:g}"),
                words.say("Take a finer blade, or stack two boards.")
                if finer else words.say("Stack boards, or use a thicker one."), depth_mm,
            )
        )  # fmt: skip
    return tuple(found)


def blade_life_min(material: Material) -> float:
    """Minutes of sawing after which a blade is changed."""
    return tables.number("timing", "rhythm.blade_life_min", 1, 600) * material.life_factor


def blades_needed(cutting_min: Sequence[float], material: Material) -> int:
    """How many blades the sawing takes, at least one.

    Args:
        cutting_min: minutes under power of each cut, in order; a blade is changed
            between cuts only, before the one that would outlive it.
        material: decides a blade's life.
    """
    life = blade_life_min(material)
    used, since = 1, 0.0
    for ahead in cutting_min:
        if since > 0.0 and since + ahead > life:
            used, since = used + 1, 0.0
        since += ahead
    # a single cut longer than a blade's life still wears out more than one
    return max(used, math.ceil(sum(cutting_min) / life - 1e-9))


def speed_for(side: Side, depth_mm: float, settings: Settings) -> Speed:
    """The mark on the user's own dial, on a half mark or on a whole one of large scales."""
    share = tables.number("blades", f"speed.{side}", 0.05, 1)
    less = tables.number("blades", "speed.beginner_less", 0, 0.5)
    if settings.skill == "beginner":
        share -= less
    if depth_mm < tables.number("blades", "speed.thin_mm", 0, 50):
        share -= less
    of = settings.saw.dial_of
    mark = 0.5 if of <= 20 else 1.0 if of <= 200 else 10.0
    return Speed(max(mark, math.floor(share * of / mark + 0.5) * mark), of)


def stack_limit(thickness_mm: float, settings: Settings) -> int:
    """How many boards cut true at once on this saw, at least one.

    >>> from companion.shop.settings import default_settings
    >>> stack_limit(6.0, default_settings()), stack_limit(40.0, default_settings())
    (3, 1)
    """
    most = min(
        tables.number("blades", "stack.most_mm", 1, 200), settings.saw.max_thickness_mm
    )  # a saw that takes less decides
    return max(1, int(most / thickness_mm + 1e-9))
