"""Reads what the sawyer wants: a project folder, its project.toml, or a bare drawing.

Every key is checked, so that a typing slip is told and not silently left out, and
the pattern may not lie outside the project's folder: a project from a stranger
must not make the program read elsewhere. Light on purpose: the saw screen asks
here before it knows whether the plan is cached.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Literal, cast

from companion.errors import ProjectError
from companion.findings import Point
from companion.pattern.options import Lines, ReadOptions, Shaded
from companion.pattern.quote import quoted
from companion.planner.plan import Direction
from companion.sentence import sentence
from companion.shop import tables
from companion.shop.finishing import COATS, PLAIN, Coat, Finish

DEFAULT_MATERIAL = str(tables.fact("saws", "project.material").value)
STACK = (1, 20)
"""Boards that are cut at once, least and most."""
THICKNESS_MM = (0.3, 100.0)
"""Boards that can be asked for, from and to."""
DEFAULT_THICKNESS_MM = tables.number("saws", "project.thickness_mm", *THICKNESS_MM)
DEFAULT_MARGIN_MM = tables.number("saws", "project.margin_mm", 0, 500)
PROJECT_FILE = "project.toml"
MOST_BYTES = 65_536
"""Of project.toml: a thousand pins; the parser takes the square of a key's length."""
SHADED: tuple[Shaded, ...] = ("piece", "waste")
LINES: tuple[Lines, ...] = ("auto", "cut", "ink")
RoundOpenings = Literal["saw", "drill"]
ROUND_OPENINGS: tuple[RoundOpenings, ...] = ("saw", "drill")
DIRECTIONS: tuple[Direction, ...] = ("clockwise", "anticlockwise")


@dataclass(frozen=True, slots=True)
class Pin:
    """What the sawyer decided about one cut, and the planner keeps."""

    opening: int | None = None
    """Number of the opening whose cut it is; None when ``piece`` is given."""
    piece: int | None = None
    """Number of the piece whose outside cut it is; None when ``opening`` is given."""
    start_mm: Point | None = None
    """Wanted start on the line, board mm; None leaves it to the planner."""
    direction: Direction | None = None
    """Wanted direction as seen on the board; None leaves it to the planner."""


@dataclass(frozen=True, slots=True)
class Overrides:
    """What the flags say instead of project.toml; None: nothing said."""

    width_mm: float | None = None
    material: str | None = None
    thickness_mm: float | None = None
    stack: int | None = None
    shaded: Shaded | None = None
    lines: Lines | None = None
    blade: str | None = None
    round_openings: RoundOpenings | None = None


NO_OVERRIDES = Overrides()


@dataclass(frozen=True, slots=True)
class ProjectSpec:
    """All that is asked of the planner."""

    name: str
    folder: Path
    """The project's folder; for a bare drawing the one it lies in."""
    pattern: Path
    """The drawing."""
    options: ReadOptions = ReadOptions()
    material: str = DEFAULT_MATERIAL
    """Key of the materials table."""
    thickness_mm: float = DEFAULT_THICKNESS_MM
    """Of one board."""
    stack: int = 1
    margin_mm: float = DEFAULT_MARGIN_MM
    """Wood around the pattern when the board's size is not given."""
    width_mm: float | None = None
    """Of the board; None: pattern and margins."""
    height_mm: float | None = None
    """Of the board; None: pattern and margins."""
    blade: str | None = None
    """Trade number; None: chosen from the tables."""
    pins: tuple[Pin, ...] = ()
    finish: Finish = PLAIN
    """What is done after the last cut."""
    round_openings: RoundOpenings = "saw"
    """Whether round openings of the size of an own drill are sawn, or drilled to size."""


def load_project(path: Path, overrides: Overrides = NO_OVERRIDES) -> ProjectSpec:
    """Read a project.

    Args:
        path: folder with project.toml, that file, or a bare .svg.
        overrides: what the flags say.

    Raises:
        ProjectError: not there, not readable, a key unknown, missing or out of range.
    """
    try:
        folder, file = path.is_dir(), path.is_file()
    except (OSError, ValueError) as error:
        why = _reason(error)
        raise ProjectError("the project cannot be opened", why, "Check its name.") from error
    if folder:
        spec = _from_toml(path / PROJECT_FILE)
    elif path.suffix.lower() == ".toml":
        spec = _from_toml(path)
    elif file:
        # whatever it is, the reader of drawings looks at its bytes and says so
        spec = ProjectSpec(path.stem, path.parent, path)
    else:
        raise ProjectError(
            sentence("{path} is not there", path=path),
            "",
            "Name a project folder, its project.toml, or an .svg file.",
        )
    return _overridden(spec, overrides)


def _overridden(spec: ProjectSpec, over: Overrides) -> ProjectSpec:
    options = spec.options
    if over.width_mm is not None:
        _in_range("--width", over.width_mm, 1, 10_000)
        options = replace(options, width_mm=over.width_mm)
    if over.shaded is not None:
        options = replace(options, shaded=over.shaded)
    if over.lines is not None:
        options = replace(options, lines=over.lines)
    spec = replace(spec, options=options)
    if over.material is not None:
        spec = replace(spec, material=over.material)
    if over.thickness_mm is not None:
        _in_range("--thickness", over.thickness_mm, *THICKNESS_MM)
        spec = replace(spec, thickness_mm=over.thickness_mm)
    if over.stack is not None:
        _in_range("--stack", over.stack, *STACK)
        spec = replace(spec, stack=over.stack)
    if over.blade is not None:
        spec = replace(spec, blade=over.blade)
    if over.round_openings is not None:
        spec = replace(spec, round_openings=over.round_openings)
    return spec


# ------------------------------------------------------------ project.toml


def _from_toml(path: Path) -> ProjectSpec:
    if not path.is_file():
        raise ProjectError(
            sentence(
                "{parent} has no {project_file}", parent=path.parent, project_file=PROJECT_FILE
            ),
            "",
            "Make one with: kerfside new DRAWING.svg.",
        )
    try:
        with path.open("rb") as file:
            content = file.read(MOST_BYTES + 1)
        if len(content) > MOST_BYTES:
            raise ProjectError(
                sentence("{path} cannot be read", path=path),
                sentence("it holds more than {kib} KiB", kib=MOST_BYTES // 1024),
                "Leave out what is not about this project.",
            )
        # some editors put a byte order mark in front
        raw = tomllib.loads(content.decode("utf-8-sig"))
    except (OSError, ValueError, RecursionError) as error:
        raise ProjectError(
            sentence("{path} cannot be read", path=path), str(error), "Mend the line named."
        ) from error
    sections = {"project": dict, "board": dict, "blade": dict, "finish": dict, "pin": list}
    for name, value in raw.items():
        if name not in sections:
            raise _bad(
                path, name, sentence("is unknown; known are {known}", known=", ".join(sections))
            )
        if not isinstance(value, sections[name]):
            brackets = "[[pin]]" if name == "pin" else f"[{name}]"
            raise _bad(path, name, sentence("must be written {brackets}", brackets=brackets))
    project = _Section(path, "project", raw.get("project", {}))
    board = _Section(path, "board", raw.get("board", {}))
    blade = _Section(path, "blade", raw.get("blade", {}))
    finish = _Section(path, "finish", raw.get("finish", {}))
    spec = ProjectSpec(
        name=quoted(project.text("name") or "", 200) or path.parent.resolve().name or "pattern",
        folder=path.parent,
        pattern=_pattern(path, project.text("pattern")),
        options=ReadOptions(
            shaded=cast(Shaded, project.choice("shaded", SHADED) or "piece"),
            lines=cast(Lines, project.choice("lines", LINES) or "auto"),
            width_mm=project.number("width_mm", 1, 10_000),
            rotate_deg=project.number("rotate_deg", -360, 360) or 0.0,
            mirror=project.flag("mirror"),
        ),
        material=board.text("material") or DEFAULT_MATERIAL,
        thickness_mm=board.number("thickness_mm", *THICKNESS_MM) or DEFAULT_THICKNESS_MM,
        stack=board.whole("stack", *STACK) or 1,
        margin_mm=_or(board.number("margin_mm", 0, 500), DEFAULT_MARGIN_MM),
        width_mm=board.number("width_mm", 1, 10_000),
        height_mm=board.number("height_mm", 1, 10_000),
        blade=blade.text("number"),
        pins=tuple(_pin(path, i, row) for i, row in enumerate(raw.get("pin", []), 1)),
        finish=Finish(
            cast(Coat, finish.choice("coat", COATS) or PLAIN.coat),
            finish.flag("hanging"),
            finish.flag("backing"),
        ),
        round_openings=cast(
            RoundOpenings, project.choice("round_openings", ROUND_OPENINGS) or "saw"
        ),
    )
    for section in (project, board, blade, finish):
        section.nothing_left()
    return spec


def _or(value: float | None, default: float) -> float:
    return default if value is None else value


class _Section:
    """One section of the file; remembers which keys were asked for."""

    def __init__(self, path: Path, name: str, content: Mapping[str, Any]) -> None:
        self.path = path
        self.name = name
        self.content = content
        self.asked: list[str] = []

    def _get(self, key: str) -> Any:  # noqa: ANN401  # TOML values
        self.asked.append(key)
        return self.content.get(key)

    def _bad(self, key: str, what: str) -> ProjectError:
        return _bad(self.path, f"{self.name}.{key}", what)

    def text(self, key: str) -> str | None:
        """Text; None when absent."""
        value = self._get(key)
        if value is None:
            return None
        if not isinstance(value, str) or not value.strip():
            raise self._bad(
                key, sentence("must be text in quotes, not {value}", value=quoted(repr(value)))
            )
        return value.strip()

    def choice(self, key: str, known: tuple[str, ...]) -> str | None:
        """One of some words; None when absent."""
        value = self._get(key)
        if value is not None and value not in known:
            raise self._bad(
                key,
                sentence("must be {known}, not {value!r}", known=" or ".join(known), value=value),
            )
        return cast("str | None", value)

    def flag(self, key: str) -> bool:
        """True or false; false when absent."""
        value = self._get(key)
        if value is not None and not isinstance(value, bool):
            raise self._bad(key, sentence("must be true or false, not {value!r}", value=value))
        return bool(value)

    def number(self, key: str, least: float, most: float) -> float | None:
        """A number in range; None when absent."""
        value = self._get(key)
        if value is None:
            return None
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise self._bad(
                key, sentence("must be a number, not {value}", value=quoted(repr(value)))
            )
        if not least <= value <= most:
            raise self._bad(
                key,
                sentence(
                    "is {value}, out of range {least:g} to {most:g}",
                    value=quoted(str(value)),
                    least=least,
                    most=most,
                ),
            )
        return float(value)

    def whole(self, key: str, least: int, most: int) -> int | None:
        """A whole number in range; None when absent."""
        value = self.number(key, least, most)
        if value is not None and value != int(value):
            raise self._bad(key, sentence("must be a whole number, not {value}", value=value))
        return None if value is None else int(value)

    def nothing_left(self) -> None:
        """Every key of the file must have been asked for."""
        for key in self.content:
            if key not in self.asked:
                raise self._bad(
                    key, sentence("is unknown; known are {known}", known=", ".join(self.asked))
                )


def _pattern(path: Path, name: str | None) -> Path:
    if name is None:
        raise _bad(path, "project.pattern", "is missing; it names the drawing, e.g. pattern.svg")
    try:
        folder = path.parent.resolve()
        target = (folder / name).resolve()
        outside, there = not target.is_relative_to(folder), target.is_file()
    except (OSError, ValueError, RuntimeError) as error:
        # a null byte, a name too long, links in a circle
        raise _bad(
            path, "project.pattern", sentence("cannot be followed: {error}", error=_reason(error))
        ) from error
    if outside:
        raise _bad(
            path,
            "project.pattern",
            sentence("leads out of the project's folder: {name}", name=name),
        )
    if not there:
        raise _bad(path, "project.pattern", sentence("is not there: {name}", name=name))
    return path.parent / name


def _reason(error: Exception) -> str:
    return (error.strerror or "") if isinstance(error, OSError) else str(error)


def _pin(path: Path, place: int, row: object) -> Pin:
    if not isinstance(row, Mapping):
        raise _bad(path, f"pin[{place}]", "must be written [[pin]]")
    section = _Section(path, f"pin[{place}]", row)
    opening = section.whole("opening", 1, 1_000_000)
    piece = section.whole("piece", 1, 1_000_000)
    if (opening is None) == (piece is None):
        raise _bad(path, f"pin[{place}]", "needs either opening or piece")
    start = section._get("start_mm")
    if start is not None:
        start = _place(section, start)
    direction = cast("Direction | None", section.choice("direction", DIRECTIONS))
    if start is None and direction is None:
        raise _bad(
            path,
            f"pin[{place}]",
            "pins nothing; give start_mm, direction or both",
        )
    section.nothing_left()
    return Pin(opening, piece, start, direction)


def _place(section: _Section, value: object) -> Point:
    if (
        not isinstance(value, list)
        or len(value) != 2
        or any(isinstance(v, bool) or not isinstance(v, int | float) for v in value)
        or any(not -10_000 <= v <= 10_000 for v in value)
    ):
        raise section._bad("start_mm", "must be two numbers in mm, e.g. [41.0, 22.5]")
    return (float(value[0]), float(value[1]))


def _in_range(name: str, value: float, least: float, most: float) -> None:
    if not least <= value <= most:
        raise ProjectError(
            sentence(
                "{name} is {value:g}, out of range {least:g} to {most:g}",
                name=name,
                value=value,
                least=least,
                most=most,
            ),
            "",
            "",
        )


def _bad(path: Path, key: str, what: str) -> ProjectError:
    return ProjectError(
        sentence("{path}: {key} {what}", path=path, key=key, what=sentence(what)),
        "",
        "Mend it in the file.",
    )
