"""Types of the shop's facts. Values live in TOML beside this file, never here."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from companion.findings import Severity

Trust = Literal["C", "D", "M", "P"]
"""C: confirmed in the named source; D: derived from such; M: from memory of the
named source; P: common practice, no published source."""
NOBODY = "sawyer"
"""Who stands at the saw as long as nobody has given a name."""
Skill = Literal["beginner", "practised", "terse"]
Signal = Literal["DANGER", "WARNING", "CAUTION", "NOTICE"]
"""Signal words of ANSI Z535.4: will, could (serious), could (minor), not about injury."""


@dataclass(frozen=True, slots=True)
class Material:
    """A kind of board."""

    key: str
    name: str
    modulus_mpa: float
    """Bending modulus E along the weaker of the two board directions used, MPa."""
    bending_mpa: float
    """Bending strength (modulus of rupture), MPa."""
    density_kg_m3: float
    feed_factor: float
    """Feed relative to MDF of the same thickness."""
    source: str
    trust: Trust
    """Of the strength values: the weakest of them."""
    family: str = "fibre"
    """``fibre``, ``plywood``, ``hardwood`` or ``softwood``: decides the finishing."""
    life_factor: float = 1.0
    """Life of a blade relative to MDF."""
    blade_shift: int = 0
    """Sizes to go up from the usual blade because the stuff is hard or gritty."""
    modulus_along_mpa: float | None = None
    """Modulus along the grain; None for boards without one grain."""
    bending_along_mpa: float | None = None
    """Bending strength along the grain; None for boards without one grain."""


@dataclass(frozen=True, slots=True)
class BladeSize:
    """A size of plain-end blade."""

    number: str
    """Universal trade number, e.g. ``2/0``, ``3``."""
    width_mm: float
    thickness_mm: float
    kerf_mm: float
    """Width of the slot it leaves."""
    tpi: float
    source: str
    trust: Trust

    @property
    def passes_mm(self) -> float:
        """Least diameter of a hole it can be threaded through: the section's diagonal."""
        return float((self.width_mm**2 + self.thickness_mm**2) ** 0.5)


@dataclass(frozen=True, slots=True)
class Drill:
    """One drill bit."""

    name: str
    """As sold: ``1.0 mm``, ``#60``, ``1/16 in``."""
    diameter_mm: float


@dataclass(frozen=True, slots=True)
class SawProfile:
    """What the user's saw can do."""

    throat_mm: float
    """Blade to the rear frame."""
    max_thickness_mm: float
    """Thickest stack that fits under the arm with the blade's stroke."""
    dial_of: float
    """Highest mark on the speed dial."""
    margin_mm: float
    """Clearance kept between board and frame."""
    name: str = "saw"
    """What the sawyer calls it; what is learnt from the log is kept by it."""
    table_length_mm: float = 0.0
    """Of its table, front to rear; 0: not known."""
    table_width_mm: float = 0.0
    """Of its table, side to side; 0: not known."""


@dataclass(frozen=True, slots=True)
class Settings:
    """The user's own choices, from settings.toml; defaults from the tables."""

    saw: SawProfile
    drills: tuple[Drill, ...]
    """The user's drill set, thin to thick."""
    skill: Skill
    finger_distance_mm: float
    """Least distance from blade to a finger that holds."""
    distance_mm: float
    """Eye to screen."""
    cell_height_mm: float
    """Height of one terminal cell, measured with a ruler."""
    language: str
    speech: bool
    speech_rate_wpm: int
    pedal_key: str
    """Textual key name."""
    inch: bool
    """Speak and show lengths in inches."""
    voice: str = "auto"
    """Id of the speech engine's voice; ``auto``: by language."""
    theme: str = "dark"
    """Colours of the saw screen: dark, light, contrast or terminal."""
    pedal_done_key: str = "none"
    """Key of a second pedal that means done and nothing else; ``none``: there is none."""
    pedal_again_key: str = "none"
    """Key of a pedal that says the step again."""
    pedal_pause_key: str = "none"
    """Key of a pedal that pauses."""
    pedal_device: str = "none"
    """Path of the pedal's own input device, read for true releases; ``none``: the terminal
    tells its key."""
    pedal_bounce_s: float = 0.030
    """A press sooner than this after the last one is bounce."""
    pedal_double_s: float = 0.350
    """Longest gap of a double tap."""
    pedal_repeat_s: float = 0.120
    """Longest gap between the repeats of the held pedal."""
    pedal_hold_s: float = 0.750
    """Longest wait for the held pedal's first repeat."""
    sawyer: str = NOBODY
    """Who stands at the saw; what is learnt from the log is kept by this name."""
    drilling: str = "level"
    """Drill round on the full screen: ``each`` hole by hole, ``all`` at once, ``level``:
    a beginner hole by hole, others all at once."""

    @property
    def each_hole(self) -> bool:
        """Whether a drill round begins hole by hole."""
        return self.drilling == "each" or (self.drilling == "level" and self.skill == "beginner")


@dataclass(frozen=True, slots=True)
class Limit:
    """From which measure on something is a finding, and how grave."""

    code: str
    """The finding's code."""
    value: float
    """Threshold; its unit is that of ``unit``."""
    unit: str
    """``mm``, ``mm2``, ``n`` or ``share``."""
    severity: Severity
    source: str
    trust: Trust


@dataclass(frozen=True, slots=True)
class SkillRules:
    """How much is said to a sawyer of one level."""

    per_leg: bool
    """One step for each leg of a cut instead of one for each cut."""
    show_why: bool
    """The reason is shown unasked."""


@dataclass(frozen=True, slots=True)
class CheckItem:
    """One line of a checklist."""

    key: str
    signal: Signal
    say: str
    why: str
    source: str
    trust: Trust


@dataclass(frozen=True, slots=True)
class Checklist:
    """What is gone through before the saw runs."""

    full: tuple[CheckItem, ...]
    """At the start of each session."""
    first: tuple[CheckItem, ...]
    """Before those of the short one at a session's first power-on: the blade is in the work now."""
    short: tuple[CheckItem, ...]
    """Before each power-on."""
    reentry: tuple[CheckItem, ...]
    """Before those of the short one when the saw goes on in an open kerf."""
    unpowered: tuple[CheckItem, ...]
    """After those of the short one, where a STOP is left for work with the saw off."""
    precedence: str
    """The sentence that the saw's manual, codes and licensed practice come first."""


@dataclass(frozen=True, slots=True)
class Mishap:
    """A kind of mishap and the way back."""

    key: str
    name: str
    steps: tuple[str, ...]
    source: str
    trust: Trust
    blade_in_hand: bool = False
    """The way back takes the blade in hand, plug out: all of it is checked anew."""
    drilling: bool = False
    """It happens at the drill, and only there; the others at the saw."""


@dataclass(frozen=True, slots=True)
class FinishStep:
    """One thing done after the last cut."""

    key: str
    title: str
    say: str
    why: str
    minutes: float
    """For each piece."""
    batch_min: float
    """Once, however many pieces are done together."""
    wait_min: float
    """Drying before the next one, minutes; 0: none."""
    needs: str
    """``stack``, ``openings``, ``hanging`` or ``backing``: done only then; empty: always."""
    families: tuple[str, ...]
    """Families of material it is for."""
    coats: tuple[str, ...]
    """What is put on when it is done."""
    lays: str
    """The coat it lays: on ``all`` faces and edges, on the ``edges`` alone; empty: none."""

    def worked_min(self, pieces: float) -> float:
        """Minutes for so many pieces' handwork (`finishing.pieces_worth`) done together."""
        return self.batch_min + self.minutes * pieces
