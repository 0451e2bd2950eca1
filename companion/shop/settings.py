"""The user's own settings: read, checked, written as TOML.

What a settings file leaves out comes from the tables. A key that is not known or
a value out of range stops the program with the file, the key and a remedy:
a wrong throat or finger distance must not slip through.
"""

from __future__ import annotations

import os
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any, cast

from companion.errors import ShopError
from companion.sentence import sentence
from companion.shop import tables
from companion.shop.model import Drill, SawProfile, Settings

SAW = "saw"


@dataclass(frozen=True, slots=True)
class _Key:
    """Where a setting stands in the file and what it may be."""

    section: str
    name: str
    kind: type
    least: float = 0.0
    most: float = 0.0
    choices: tuple[str, ...] = ()
    attribute: str = ""
    """Field of Settings, or of SawProfile in section ``saw``; empty: like the name."""

    @property
    def field(self) -> str:
        return self.attribute or self.name


KEYS: tuple[_Key, ...] = (
    _Key(SAW, "throat_mm", float, 50, 2000),
    _Key(SAW, "max_thickness_mm", float, 3, 150),
    _Key(SAW, "dial_of", float, 1, 3000),
    _Key(SAW, "margin_mm", float, 0, 100),
    _Key(SAW, "table_length_mm", float, 0, 3000),
    _Key(SAW, "table_width_mm", float, 0, 3000),
    _Key(SAW, "name", str),
    _Key("sawyer", "name", str, attribute="sawyer"),
    _Key("sawyer", "skill", str, choices=tables.SKILLS),
    _Key("sawyer", "drilling", str, choices=("level", "each", "all")),
    _Key("sawyer", "finger_distance_mm", float, 10, 150),
    _Key("sawyer", "language", str),
    _Key("sawyer", "inch", bool),
    _Key("screen", "distance_mm", float, 200, 6000),
    _Key("screen", "cell_height_mm", float, 1, 50),
    _Key("voice", "speech", bool),
    _Key("voice", "speech_rate_wpm", int, 80, 260),
    _Key("voice", "voice", str),
    _Key("screen", "theme", str, choices=("dark", "light", "contrast", "terminal")),
    _Key("pedal", "pedal_key", str),
    _Key("pedal", "pedal_done_key", str),
    _Key("pedal", "pedal_again_key", str),
    _Key("pedal", "pedal_pause_key", str),
    _Key("pedal", "pedal_device", str),
    _Key("pedal", "pedal_bounce_s", float, 0.0, 0.1),
    _Key("pedal", "pedal_double_s", float, 0.15, 0.7),
    _Key("pedal", "pedal_repeat_s", float, 0.05, 0.4),
    _Key("pedal", "pedal_hold_s", float, 0.2, 2.5),
)
"""Everything a settings file may hold, beside ``drills.set``."""


def limits(field: str) -> tuple[float, float]:
    """The least and the most a setting may be, in its own unit.

    Args:
        field: of Settings, or of SawProfile.

    >>> limits("distance_mm")
    (200, 6000)
    """
    return next((key.least, key.most) for key in KEYS if key.field == field)


def default_settings() -> Settings:
    """What a fresh install starts with, from the tables."""
    raw: dict[str, Any] = {}
    for key in KEYS:
        group = "profile" if key.section == SAW else "settings"
        raw.setdefault(key.section, {})[key.name] = tables.fact(
            "saws", f"{group}.{key.field}"
        ).value
    return _build(raw, tables.default_drills(), "saws.toml")


def load_settings(path: Path | None) -> Settings:
    """Read the settings file.

    Args:
        path: the file; None or a file that does not exist yet gives the defaults.

    Raises:
        ShopError: not TOML, an unknown key, a value of the wrong kind or out of range.
    """
    if path is None or not path.exists():
        return default_settings()
    try:
        raw = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise ShopError(
            sentence("the settings file {path} cannot be read", path=path),
            str(error),
            "Mend it, or delete it and run kerfside setup.",
        ) from error
    known = {(k.section, k.name) for k in KEYS} | {("drills", "set")}
    for section, content in raw.items():
        if not isinstance(content, dict):
            raise _bad(path.name, section, "must be a section in brackets")
        for name in content:
            if (section, name) not in known:
                raise _bad(path.name, f"{section}.{name}", "is not a setting")
    defaults = default_settings()
    merged = _plain(defaults)
    for section, content in raw.items():
        merged.setdefault(section, {}).update(content)
    names = raw.get("drills", {}).get("set")
    drills = defaults.drills if names is None else _drills(names, path.name)
    return _build(merged, drills, path.name)


def save_settings(settings: Settings, path: Path) -> None:
    """Write the settings file, whole or not at all.

    Raises:
        ShopError: a value out of range, or the file cannot be written.
    """
    _build(_plain(settings), settings.drills, path.name)
    lines = ["# Kerfside settings. Delete a line to get its default back."]
    for section, content in _plain(settings).items():
        lines += ["", f"[{section}]"]
        lines += [f"{name} = {_toml(value)}" for name, value in content.items()]
    lines += ["", "[drills]", f"set = [{', '.join(_toml(d.name) for d in settings.drills)}]", ""]
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        beside = path.with_name(f"{path.name}.{os.getpid()}.part")
        beside.write_text("\n".join(lines), encoding="utf-8")
        beside.replace(path)
    except OSError as error:
        raise ShopError(
            sentence("the settings cannot be written to {path}", path=path),
            str(error),
            "Check the folder's rights.",
        ) from error


def _plain(settings: Settings) -> dict[str, dict[str, Any]]:
    result: dict[str, dict[str, Any]] = {}
    for key in KEYS:
        owner = settings.saw if key.section == SAW else settings
        result.setdefault(key.section, {})[key.name] = getattr(owner, key.field)
    return result


def _build(raw: Mapping[str, Mapping[str, Any]], drills: tuple[Drill, ...], file: str) -> Settings:
    saw: dict[str, Any] = {}
    rest: dict[str, Any] = {}
    for key in KEYS:
        value = _checked(key, raw[key.section][key.name], file)
        (saw if key.section == SAW else rest)[key.field] = value
    missing = {f.name for f in fields(SawProfile)} - set(saw)
    assert not missing, missing
    return Settings(saw=SawProfile(**saw), drills=drills, **rest)


def _checked(key: _Key, value: object, file: str) -> object:
    name = f"{key.section}.{key.name}"
    if key.kind is bool or key.kind is str:
        if not isinstance(value, key.kind) or value == "":
            raise _bad(file, name, "must be true or false" if key.kind is bool else "must be text")
        if key.choices and value not in key.choices:
            raise _bad(
                file,
                name,
                sentence(
                    "must be one of {known}, not {value!r}",
                    known=", ".join(key.choices),
                    value=value,
                ),
            )
        return value
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise _bad(file, name, sentence("must be a number, not {value!r}", value=value))
    if not key.least <= value <= key.most:
        raise _bad(
            file,
            name,
            sentence(
                "{value} is out of range, {least:g} to {most:g}",
                value=value,
                least=key.least,
                most=key.most,
            ),
        )
    return int(value) if key.kind is int else float(value)


def _drills(names: object, file: str) -> tuple[Drill, ...]:
    if not isinstance(names, list) or not names or not all(isinstance(n, str) for n in names):
        raise _bad(file, "drills.set", 'must be a list such as ["1.0 mm", "#60"]')
    try:
        found = {tables.drill(n) for n in names}
    except ShopError as error:
        raise _bad(
            file,
            "drills.set",
            sentence("{error}. {remedy}", error=error.title, remedy=error.remedy),
        ) from error
    return tuple(sorted(found, key=lambda d: (d.diameter_mm, d.name)))


def _bad(file: str, key: str, what: str) -> ShopError:
    return ShopError(
        sentence("{file}: {key} {what}", file=file, key=key, what=sentence(what)),
        "",
        "Mend the line, or delete it for its default.",
    )


def _toml(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return repr(value)
    return f'"{"".join(map(_toml_sign, cast(str, value)))}"'


def _toml_sign(sign: str) -> str:
    """A character as a TOML string holds it; lone surrogates, which it cannot, become ``?``."""
    if sign in '\\"':
        return "\\" + sign
    if "\ud800" <= sign <= "\udfff":
        return "?"
    return sign if sign.isprintable() else f"\\U{ord(sign):08X}"
