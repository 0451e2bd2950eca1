"""The shop's rules for holes, starts, turns and holding, read from turns.toml.

Every number of these modules that is a habit of the trade, not geometry, stands in
companion/shop/data/turns.toml with its source and how far to trust it.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files

from companion.errors import ShopError
from companion.sentence import sentence
from companion.shop.model import Skill


@dataclass(frozen=True, slots=True)
class HoleRules:
    """Where an entry hole may be and how thick its drill is."""

    margin_mm: float
    """Wood between the hole's edge and any line."""
    roomy_margin_mm: float
    """The same where there is room."""
    tight_margin_mm: float
    """The same at the widest spot of tight waste."""
    slack_mm: float
    """The blade's diagonal passes with this much to spare."""
    steps_up: int
    """Sizes of the set above the least one, where there is room."""
    largest_times: float
    """Never thicker than this many times the least hole."""
    frame_mm: float
    """Wood between the hole's edge and the board's edge."""


@dataclass(frozen=True, slots=True)
class SizeRules:
    """When an opening is round enough to be drilled."""

    round_off_mm: float
    """Largest distance of its outline from a circle."""
    round_share: float
    """The same as a share of the radius; the lesser of the two counts."""
    round_least_mm: float
    """Nearer to a circle than this, any outline is round."""


@dataclass(frozen=True, slots=True)
class StartRules:
    """What a good start of a cut is."""

    straight_deg: float
    """Bend over the window up to which a stretch counts as straight."""
    window_mm: float
    """Length of each of the two chords that measure that bend."""
    thick_times: float
    """Wanted thickness of the piece behind a start, in board thicknesses."""
    merge_deg: float
    """Angle between the lead-in and the line."""


@dataclass(frozen=True, slots=True)
class TurnRules:
    """How one skill level takes corners."""

    chord_widths: float
    """Chord that measures a bend, in blade widths."""
    follow_deg: float
    """Bend over one chord that is simply steered."""
    spin_waste_deg: float
    """Least waste angle that is spun at a corner of the waste."""
    spin_tip_deg: float
    """Largest change of heading spun at a point of the piece."""
    back_up_widths: float
    """How far the blade is drawn back from a corner to spin, in blade widths."""
    loop_radius_widths: float
    """Radius of a loop, in blade widths."""
    loop_least_widths: float
    """Radius down to which it may shrink where there is less room."""
    loop_deg: float
    """Change of heading from which a loop is preferred to a spin."""


@dataclass(frozen=True, slots=True)
class HoldRules:
    """Where fingers may hold what comes free."""

    finger_radius_mm: float
    """Solid wood wanted around a fingertip's centre."""
    slender_mm: float
    """Least width of a stroke that is pressed flat where nothing is that solid."""
    last_share: float
    """Share of the cut at its end during which the part is held."""


@dataclass(frozen=True, slots=True)
class Rules:
    """All of them."""

    hole: HoleRules
    to_size: SizeRules
    start: StartRules
    turn: TurnRules
    hold: HoldRules


@lru_cache(maxsize=4)
def rules_for(skill: Skill = "practised") -> Rules:
    """Read the table for one skill level; ``terse`` turns corners as ``practised``.

    Raises:
        ShopError: the table lacks a value or has one that is not a number.
    """
    level = "beginner" if skill == "beginner" else "practised"
    text = (files("companion.shop") / "data" / "turns.toml").read_text(encoding="utf-8")
    try:
        data = tomllib.loads(text)
        hole, start, hold = (_values(data[k]) for k in ("hole", "start", "hold"))
        turn = _values(data["turn"][level]) | _values(data["corner"])
        steps_up = int(hole.pop("steps_up"))
        return Rules(
            HoleRules(steps_up=steps_up, **hole),
            SizeRules(**_values(data["to_size"])),
            StartRules(**start),
            TurnRules(**turn),
            HoldRules(**hold),
        )
    except (KeyError, TypeError, ValueError) as error:
        raise ShopError(
            "the table of turns cannot be used",
            sentence("turns.toml: {error}", error=error),
            "Install Kerfside again.",
        ) from error


def _values(table: dict[str, dict[str, object]]) -> dict[str, float]:
    """The bare numbers of a table whose rows are ``{value, source, trust}``."""
    return {key: float(str(row["value"])) for key, row in table.items()}
