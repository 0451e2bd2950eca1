"""Reads the shop's tables: every fact with its source and how far to trust it.

A fact is written ``key = { v = value, s = "source id", t = "C" }``; the ids are
spelt out in the file's own ``[sources]``. A value that is missing, of the wrong
kind or out of its sane range stops the program with the file, the key and a
remedy: a table someone edited must not turn into a wrong plan.

Light on purpose (tomllib only): the saw screen reads its checks through it.
"""

from __future__ import annotations

import difflib
import hashlib
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any, cast

from companion.errors import ShopError
from companion.findings import Severity
from companion.sentence import sentence
from companion.shop.model import (
    BladeSize,
    Drill,
    Limit,
    Material,
    Skill,
    SkillRules,
    Trust,
)
from companion.units import MM_PER_INCH

DATA = Path(__file__).parent / "data"
TRUST_ORDER: tuple[Trust, ...] = ("C", "D", "M", "P")
"""Best first."""
SKILLS: tuple[Skill, ...] = ("beginner", "practised", "terse")
FAMILIES = ("fibre", "plywood", "hardwood", "softwood")


@dataclass(frozen=True, slots=True)
class Fact:
    """One value of a table."""

    value: object
    source: str
    """The source spelt out."""
    trust: Trust
    row: Mapping[str, Any]
    """The whole inline table, for keys beside v, s and t."""


@cache
def _load(name: str, folder: Path) -> Mapping[str, Any]:
    path = folder / f"{name}.toml"
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise ShopError(
            sentence("the shop table {name} cannot be read", name=path.name),
            str(error),
            "Install the program again, or put the file back.",
        ) from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise ShopError(
            sentence("the shop table {name} is not valid TOML", name=path.name),
            str(error),
            sentence("Mend {path}.", path=path),
        ) from error


def table(name: str, folder: Path = DATA) -> Mapping[str, Any]:
    """A whole table as it stands in its file, for modules with rows of their own.

    Raises:
        ShopError: it cannot be read.
    """
    return _load(name, folder)


def bad(name: str, key: str, what: str, folder: Path) -> ShopError:
    """The error of a spoilt table: file, key, and what is wrong with it."""
    return ShopError(
        sentence("shop table {name}.toml, {key}: {what}", name=name, key=key, what=sentence(what)),
        "",
        sentence("Mend it in {folder}.", folder=folder / (name + ".toml")),
    )


def fact(name: str, key: str, folder: Path = DATA) -> Fact:
    """Look up one value.

    Args:
        name: the table file without ``.toml``.
        key: dotted path, e.g. ``feed.mm_per_min``.
        folder: where the tables are.

    Raises:
        ShopError: missing, or without source or trust.
    """
    node: Any = _load(name, folder)
    for part in key.split("."):
        if not isinstance(node, Mapping) or part not in node:
            raise bad(name, key, "is missing", folder)
        node = node[part]
    return _fact(name, key, node, folder)


def _fact(name: str, key: str, node: object, folder: Path) -> Fact:
    if not isinstance(node, Mapping) or "v" not in node:
        raise bad(name, key, "must be written { v = value, s = source, t = trust }", folder)
    sources = _load(name, folder).get("sources", {})
    if node.get("s") not in sources:
        told = sentence("names no source of this file: {value!r}", value=node.get("s"))
        raise bad(name, key, told, folder)
    if node.get("t") not in TRUST_ORDER:
        raise bad(name, key, "needs t = C, D, M or P", folder)
    return Fact(node["v"], str(sources[node["s"]]), cast(Trust, node["t"]), node)


def number(
    name: str, key: str, least: float = 0.0, most: float = 1e6, folder: Path = DATA
) -> float:
    """Look up one number and hold it to its sane range.

    >>> number("timing", "feed.mm_per_min", 1, 5000) > 0
    True

    Raises:
        ShopError: missing, not a number, below ``least`` or above ``most``.
    """
    return _in_range(name, key, fact(name, key, folder).value, least, most, folder)


def row_number(
    name: str, key: str, node: object, least: float, most: float, folder: Path = DATA
) -> float:
    """The number of one written fact of a row, with its source and trust asked for.

    Raises:
        ShopError: not written as a fact, not a number, or out of range.
    """
    return _in_range(name, key, _fact(name, key, node, folder).value, least, most, folder)


def _in_range(name: str, key: str, value: object, least: float, most: float, folder: Path) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise bad(name, key, sentence("must be a number, not {value!r}", value=value), folder)
    if not least <= value <= most:
        told = sentence("{value} is out of range, {least:g} to {most:g}",
                        value=value, least=least, most=most)  # fmt: skip
        raise bad(name, key, told, folder)
    return float(value)


def severity(name: str, key: str, folder: Path = DATA) -> Severity:
    """How grave a finding of a value of another table than limits is.

    >>> severity("weak", "slot.kerfs")
    'warn'

    Raises:
        ShopError: missing, or without one of the three severities.
    """
    grave = fact(name, key, folder).row.get("severity")
    if grave not in ("stop", "warn", "note"):
        raise bad(name, key, "needs severity = stop, warn or note", folder)
    return cast(Severity, grave)


@cache
def tables_hash(folder: Path = DATA) -> str:
    """SHA-256 over names and bytes of all tables: a plan depends on them."""
    digest = hashlib.sha256()
    for path in sorted(folder.glob("*.toml")):
        digest.update(path.name.encode() + b"\0" + path.read_bytes() + b"\0")
    return digest.hexdigest()


def _keys(name: str, folder: Path) -> list[str]:
    return [k for k in _load(name, folder) if k != "sources"]


# --------------------------------------------------------------- materials


@cache
def materials(folder: Path = DATA) -> Mapping[str, Material]:
    """All kinds of board by key.

    >>> materials()["mdf"].modulus_mpa
    3590.0
    """
    return {key: _material(key, folder) for key in _keys("materials", folder)}


def _material(key: str, folder: Path) -> Material:
    raw = _load("materials", folder)[key]

    def value(field: str, least: float, most: float) -> float:
        return number("materials", f"{key}.{field}", least, most, folder)

    strength = [fact("materials", f"{key}.{f}", folder) for f in ("modulus_mpa", "bending_mpa")]
    family = raw.get("family")
    if family not in FAMILIES:
        raise bad(
            "materials",
            f"{key}.family",
            sentence("must be one of {known}", known=", ".join(FAMILIES)),
            folder,
        )
    along = "modulus_along_mpa" in raw
    return Material(
        key=key,
        name=str(raw.get("name", key)),
        modulus_mpa=value("modulus_mpa", 10, 1e5),
        bending_mpa=value("bending_mpa", 0.1, 1000),
        density_kg_m3=value("density_kg_m3", 50, 3000),
        feed_factor=value("feed_factor", 0.05, 10),
        source="; ".join(dict.fromkeys(f.source for f in strength)),
        trust=max((f.trust for f in strength), key=TRUST_ORDER.index),
        family=family,
        life_factor=value("life_factor", 0.05, 10),
        blade_shift=int(value("blade_shift", -3, 3)),
        modulus_along_mpa=value("modulus_along_mpa", 10, 1e5) if along else None,
        bending_along_mpa=value("bending_along_mpa", 0.1, 1000) if along else None,
    )


def material(key: str, folder: Path = DATA) -> Material:
    """One kind of board.

    Raises:
        ShopError: not in the table.
    """
    known = materials(folder)
    if key not in known:
        near = difflib.get_close_matches(key.lower(), known, n=2)
        raise ShopError(
            sentence("unknown material {key!r}", key=key),
            "",
            sentence("Did you mean {near}?", near=", ".join(near))
            if near
            else sentence("Use one of: {known}.", known=", ".join(sorted(known))),
        )
    return known[key]


# ------------------------------------------------------------------ blades


@cache
def blades(folder: Path = DATA) -> tuple[BladeSize, ...]:
    """Plain-end blades that a plan chooses from, thin to thick.

    >>> [b.number for b in blades()][:3], round(blades()[3].passes_mm, 3)
    (['2/0', '1', '2'], 0.887)
    """
    numbers = _load("blades", folder).get("order", {}).get("numbers", [])
    return tuple(b for b in every_blade(folder) if b.number in numbers)


@cache
def every_blade(folder: Path = DATA) -> tuple[BladeSize, ...]:
    """Plain-end blades that may be asked for, thin to thick.

    >>> [b.number for b in every_blade()][:3]
    ['3/0', '2/0', '0']
    """
    sizes = _load("blades", folder).get("size", {})
    kerf_mm = number("blades", "kerf.added_mm", 0, 2, folder)
    result = []
    for n in sizes:

        def value(field: str, least: float, most: float, n: str = n) -> float:
            return number("blades", f"size.{n}.{field}", least, most, folder)

        thick = value("thickness_in", 0.001, 0.2) * MM_PER_INCH
        width = fact("blades", f"size.{n}.width_in", folder)
        result.append(
            BladeSize(
                number=n,
                width_mm=value("width_in", 0.005, 0.5) * MM_PER_INCH,
                thickness_mm=thick,
                kerf_mm=thick + kerf_mm,
                tpi=value("tpi", 1, 60),
                source=width.source,
                trust=width.trust,
            )
        )
    return tuple(sorted(result, key=lambda b: (b.width_mm, b.thickness_mm)))


@cache
def spiral_blade(folder: Path = DATA) -> BladeSize:
    """The spiral blade that is advised where the board cannot be turned.

    >>> spiral_blade().number
    'spiral'
    """
    width = number("blades", "spiral.width_mm", 0.2, 3, folder)
    fact_ = fact("blades", "spiral.width_mm", folder)
    return BladeSize(
        "spiral", width, 0.0, width, number("blades", "spiral.tpi", 1, 100, folder),
        fact_.source, fact_.trust,
    )  # fmt: skip


def blade(size: str, folder: Path = DATA) -> BladeSize:
    """One blade by its trade number.

    Raises:
        ShopError: not in the table.
    """
    for known in every_blade(folder):
        if known.number == size:
            return known
    names = ", ".join(b.number for b in every_blade(folder))
    raise ShopError(
        sentence("unknown blade {size!r}", size=size),
        "",
        sentence("Use one of: {names}.", names=names),
    )


@dataclass(frozen=True, slots=True)
class BladeChoice:
    """Which size for which total thickness."""

    up_to_mm: float
    fine: str
    usual: str


@cache
def blade_choices(folder: Path = DATA) -> tuple[BladeChoice, ...]:
    """The starting table, thin to thick."""
    rows = _load("blades", folder).get("choice", [])
    result = []
    for i, row in enumerate(rows, 1):
        key = f"choice[{i}]"
        up_to = _fact("blades", f"{key}.up_to_mm", row.get("up_to_mm"), folder)
        for part in ("fine", "usual"):
            blade(str(row.get(part)), folder)
        up_to_mm = _in_range("blades", f"{key}.up_to_mm", up_to.value, 0.1, 500, folder)
        result.append(BladeChoice(up_to_mm, row["fine"], row["usual"]))
    if not result:
        raise bad("blades", "choice", "is missing", folder)
    return tuple(result)


# ------------------------------------------------------------------ drills


@cache
def all_drills(folder: Path = DATA) -> Mapping[str, Drill]:
    """Every drill that can be bought, by name.

    >>> all_drills()["#57"].diameter_mm, all_drills()["1.0 mm"].diameter_mm
    (1.0922, 1.0)
    """
    raw = _load("drills", folder)
    found: dict[str, Drill] = {}
    for group in ("number", "fraction"):
        for name in raw.get(group, {}):
            inches = number("drills", f"{group}.{name}", 0.005, 2, folder)
            found[name] = Drill(name, round(inches * MM_PER_INCH, 6))
    for row in raw.get("metric", {}).get("steps", []):
        steps = round((row["to_mm"] - row["from_mm"]) / row["step_mm"]) + 1
        for i in range(steps):
            for offset in row["offsets_mm"]:
                size = round(row["from_mm"] + i * row["step_mm"] + offset, 3)
                if size <= row["to_mm"] + 1e-9:
                    found.setdefault(metric_name(size), Drill(metric_name(size), size))
    return found


def metric_name(size_mm: float) -> str:
    """How a metric drill is called.

    >>> metric_name(1.0), metric_name(0.85)
    ('1.0 mm', '0.85 mm')
    """
    text = f"{size_mm:.2f}"
    return (text[:-1] if text.endswith("0") else text) + " mm"


def drill(name: str, folder: Path = DATA) -> Drill:
    """One drill by name: ``#60``, ``1/16 in``, or any size in mm.

    Raises:
        ShopError: not a drill.
    """
    text = name.strip().replace("Zoll", "in")
    known = all_drills(folder)
    if text in known:
        return known[text]
    body = text.removesuffix("mm").strip().replace(",", ".")
    try:
        size = float(body)
    except ValueError:
        size = 0.0
    if not 0.1 <= size <= 13.0:
        raise ShopError(
            sentence("unknown drill {name!r}", name=name), "", "Write it as 1.0 mm, #60 or 1/16 in."
        ) from None
    return Drill(metric_name(size), size)


def default_drills(folder: Path = DATA) -> tuple[Drill, ...]:
    """The set assumed until the user tells, thin to thick."""
    names = fact("drills", "default.set", folder).value
    if not isinstance(names, list) or not names:
        raise bad("drills", "default.set", "must be a list of names", folder)
    return tuple(sorted((drill(str(n), folder) for n in names), key=lambda d: d.diameter_mm))


# ------------------------------------------------------------------ limits


@cache
def limits(folder: Path = DATA) -> Mapping[str, Limit]:
    """All thresholds by finding code."""
    result = {}
    for code in _keys("limits", folder):
        row = _load("limits", folder)[code]
        if not isinstance(row, Mapping) or len(row) != 1:
            raise bad("limits", code, "needs exactly one threshold", folder)
        unit = next(iter(row))
        one = fact("limits", f"{code}.{unit}", folder)
        severity = one.row.get("severity")
        if severity not in ("stop", "warn", "note"):
            raise bad("limits", code, "needs severity = stop, warn or note", folder)
        value = number("limits", f"{code}.{unit}", 0, 1e6, folder)
        result[code] = Limit(code, value, unit, cast(Severity, severity), one.source, one.trust)
    return result


def limit(code: str, folder: Path = DATA) -> Limit:
    """One threshold.

    Raises:
        ShopError: not in the table.
    """
    known = limits(folder)
    if code not in known:
        raise bad("limits", code, "is missing", folder)
    return known[code]


# ----------------------------------------------------------------- skills


@cache
def skill_rules(skill: Skill, folder: Path = DATA) -> SkillRules:
    """How much is said, by level."""

    def flag(key: str) -> bool:
        value = fact("skills", f"{skill}.{key}", folder).value
        if not isinstance(value, bool):
            raise bad("skills", f"{skill}.{key}", "must be true or false", folder)
        return value

    return SkillRules(
        per_leg=flag("per_leg"),
        show_why=flag("show_why"),
    )


def rows(name: str, key: str, needs: tuple[str, ...], folder: Path) -> list[Mapping[str, Any]]:
    """The rows of an array of tables, each with all it needs.

    Raises:
        ShopError: a key is missing.
    """
    raw = _load(name, folder)
    rows = raw.get(key, [])
    if not isinstance(rows, list) or not rows:
        raise bad(name, key, "is missing", folder)
    for i, row in enumerate(rows, 1):
        for need in needs:
            if need not in row:
                raise bad(name, f"{key}[{i}].{need}", "is missing", folder)
    return rows


def sourced(name: str, key: str, row: Mapping[str, Any], folder: Path) -> tuple[str, Trust]:
    """Source and trust of a row."""
    known = _fact(name, key, {"v": 0, "s": row["s"], "t": row["t"]}, folder)
    return known.source, known.trust
