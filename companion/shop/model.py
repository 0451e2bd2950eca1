"""Types of the shop's facts. Values live in TOML beside this file, never here."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Trust = Literal["C", "D", "M", "P"]
"""C: confirmed in the named source; D: derived from such; M: from memory of the
named source; P: common practice, no published source."""
Skill = Literal["beginner", "practised", "terse"]


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
