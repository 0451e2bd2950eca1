"""``kerfside new``: a project folder from a drawing, by flags or by asking."""

from __future__ import annotations

import argparse
import shlex
import shutil
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TypeVar

from companion.cli.common import add_override_flags, length_given, overrides_from, user_settings
from companion.cli.listing import size_doubts
from companion.cli.wrapping import answer, show, wrapped
from companion.errors import EXIT_FINE, KerfsideError, ProjectError, UsageError
from companion.findings import Finding
from companion.planner.project import (
    DEFAULT_THICKNESS_MM,
    PROJECT_FILE,
    THICKNESS_MM,
    Overrides,
    ProjectSpec,
    load_project,
)
from companion.sentence import sentence
from companion.shop import tables
from companion.shop.finishing import COATS, PLAIN, Finish
from companion.shop.names import material_text
from companion.words import ENGLISH, Words

_T = TypeVar("_T")
MOST_BOARDS = 20
"""Boards at once that a project may ask for."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of this verb."""
    parser.add_argument("drawing", metavar="DRAWING", type=Path, help="the .svg to start from")
    parser.add_argument(
        "folder", metavar="FOLDER", type=Path, nargs="?", help="new folder; default: like the file"
    )
    parser.add_argument("--name", help="what the project is called")
    parser.add_argument(
        "--no-questions", action="store_true", help="take defaults for what no flag says"
    )
    parser.add_argument(
        "--finish", metavar="WORDS",
        help="after the last cut: paint, varnish, oil or none; with hanging, backing, or both, "
        'as in "oil, hanging"',
    )  # fmt: skip
    add_override_flags(parser)


def run(args: argparse.Namespace) -> int:
    """Make the folder, and say what to do next.

    Raises:
        ProjectError: the drawing is not there, or the folder is not free.
        PatternError: the drawing cannot be read.
    """
    settings, words = user_settings()
    load_project(args.drawing)  # tells of a drawing that is not there or cannot be opened
    if not args.drawing.is_file():
        raise ProjectError(
            sentence("{drawing} is not a file", drawing=args.drawing),
            "",
            "Name the .svg to start from.",
        )
    folder: Path = args.folder or args.drawing.parent / args.drawing.stem
    _must_be_free(folder)
    over = overrides_from(args)
    finish = None if args.finish is None else finish_from(args.finish, words)
    drawn_mm, doubts = as_drawn(args.drawing, over)
    for doubt in doubts:
        show(f"{words.told(doubt.text)} {words.told(doubt.remedy)}")
    if sys.stdin.isatty() and not args.no_questions:
        over = ask(over, words, answer, drawn_mm, settings.saw.max_thickness_mm)
        finish = ask_finish(words, answer) if finish is None else finish
    spec = load_project(args.drawing, over)
    tables.material(spec.material)
    if spec.blade is not None:
        tables.blade(spec.blade)
    spec = replace(spec, name=args.name or _name_from(args.drawing), finish=finish or PLAIN)
    write_project(spec, args.drawing, folder)
    show(words.say("Made {folder}.", folder=folder))
    taken = _taken(over, finish, spec, drawn_mm, words)
    if taken:
        told = words.say(
            "Taken where nothing was said: {taken}. To change any of it, edit {file}.",
            taken=", ".join(taken), file=folder / PROJECT_FILE,
        )  # fmt: skip
        show("\n".join(wrapped(told)))
    show(words.say("Next: {command}", command=shlex.join(["kerfside", "check", str(folder)])))
    return EXIT_FINE


def _taken(
    over: Overrides, finish: Finish | None, spec: ProjectSpec, drawn_mm: float, words: Words
) -> list[str]:
    """The defaults that stand in the project, as nobody said otherwise."""
    found = []
    if over.width_mm is None:
        found.append(words.say("width as drawn ({size})", size=words.length(drawn_mm)))
    if over.material is None:
        found.append(material_text(spec.material, words))
    if over.thickness_mm is None:
        found.append(words.say("{size} thick", size=words.length(spec.thickness_mm)))
    if over.stack is None:
        found.append(words.count("{n} board at once", "{n} boards at once", spec.stack))
    if finish is None:
        found.append(words.say("no finish, sanded only"))
    return found


def as_drawn(drawing: Path, over: Overrides) -> tuple[float, list[Finding]]:
    """How wide the drawing is as it stands, and what is doubtful about its size.

    An icon that is a few millimetres wide is best noticed while the width is asked for, and
    text that is no outline before a project is made of it.

    Returns:
        Width of the ink, mm; findings about an unknown or tiny size, none if a width is wanted.

    Raises:
        PatternError: the drawing cannot be read.
    """
    # imported here: a drawing that is not there is told without it
    from companion.pattern.reader import read_pattern

    pattern = read_pattern(drawing, load_project(drawing, over).options)
    left, _, right, _ = pattern.bounds_mm
    return right - left, size_doubts(pattern.findings)


def ask(
    over: Overrides,
    words: Words,
    answer: Callable[[str], str],
    drawn_mm: float | None = None,
    saw_mm: float | None = None,
) -> Overrides:
    """Ask for what no flag says; an empty answer leaves the default.

    Args:
        over: what the flags say.
        words: the language.
        answer: shows a question and returns one line.
        drawn_mm: width of the ink as drawn; None: not known.
        saw_mm: thickest stack the saw takes; None: not known.
    """
    if over.width_mm is None:
        text = words.say("Width of the pattern (e.g. 200mm; empty: as drawn): ")
        if drawn_mm is not None:
            size = words.length(drawn_mm)
            text = words.say(
                "Width of the pattern (e.g. 200mm; empty: as drawn, {size}): ", size=size
            )
        over = replace(over, width_mm=_asked(answer, text, length_given, words))
    if over.material is None:
        known = ", ".join(sorted(tables.materials()))
        show("\n".join(wrapped(words.say("Materials: {known}.", known=known))))
        text = words.say("Material (empty: mdf): ")
        over = replace(over, material=_asked(answer, text, lambda t: tables.material(t).key, words))
    if over.thickness_mm is None:
        text = words.say("Thickness of one board (e.g. 6mm or 1/4in; empty: 6 mm): ")
        over = replace(over, thickness_mm=_asked(answer, text, _thickness, words))
    if over.stack is None:
        thick = over.thickness_mm or DEFAULT_THICKNESS_MM
        most = MOST_BOARDS if saw_mm is None else max(1, min(MOST_BOARDS, int(saw_mm / thick)))
        text = words.say("Boards cut at once, up to {most} (empty: 1): ", most=most)
        over = replace(over, stack=_asked(answer, text, lambda t: _count(t, most), words))
    return over


def ask_finish(words: Words, answer: Callable[[str], str]) -> Finish | None:
    """Ask what is done after the last cut; None: nothing but sanding.

    Args:
        words: the language.
        answer: shows a question and returns one line.
    """
    text = words.say(
        "After the last cut: paint, varnish, oil or none; hanging, backing (empty: none, sanded "
        "only): "
    )
    return _asked(answer, text, lambda line: finish_from(line, words), words)


def finish_from(text: str, words: Words = ENGLISH) -> Finish:
    """A finish from its words, English or of the user's language.

    >>> finish_from("oil, hanging")
    Finish(coat='oil', hanging=True, backing=False)

    Raises:
        UsageError: a word that is none, or two coats.
    """
    known = {
        words.say("paint"): "paint", words.say("varnish"): "varnish", words.say("oil"): "oil",
        words.say("none"): "none", words.say("hanging"): "hanging",
        words.say("backing"): "backing",
    }  # fmt: skip
    own = {name.lower(): word for name, word in known.items()}
    said = {own.get(word, word) for word in text.lower().replace(",", " ").split()}
    coats = [coat for coat in COATS if coat in said]
    unknown = sorted(said - {*COATS, "hanging", "backing"})
    if unknown or len(coats) > 1:
        raise UsageError(
            sentence("not a finish: {text!r}", text=", ".join(unknown or coats)), "",
            "Write one of paint, varnish, oil, none; then hanging, backing, or both.",
        )  # fmt: skip
    return Finish(coats[0] if coats else PLAIN.coat, "hanging" in said, "backing" in said)


def finish_words(finish: Finish) -> str:
    """What `finish_from` reads as this finish.

    >>> finish_words(Finish("oil", hanging=True))
    'oil, hanging'
    """
    more = [word for word in ("hanging", "backing") if getattr(finish, word)]
    return ", ".join([finish.coat, *more])


def _asked(
    answer: Callable[[str], str], text: str, read: Callable[[str], _T], words: Words
) -> _T | None:
    """Ask until the answer can be read."""
    while True:
        try:
            line = answer(text).strip()
        except EOFError:
            return None
        if not line:
            return None
        try:
            return read(line)
        except KerfsideError as error:
            show(words.error(error), sys.stderr)


def _thickness(text: str) -> float:
    """What the project would refuse is refused at the question."""
    value = length_given(text)
    low, high = THICKNESS_MM
    if not low <= value <= high:
        raise UsageError(
            sentence("{n} mm is no thickness of a board", n=f"{value:g}"), "",
            "Write it with its unit, e.g. 6mm or 1/4in.",
        )  # fmt: skip
    return value


def _count(text: str, most: int) -> int:
    if not text.isdigit() or not 1 <= int(text) <= MOST_BOARDS:
        raise UsageError(
            sentence("not a number of boards: {text!r}", text=text), "",
            sentence("Write 1 to {most}.", most=most),
        )  # fmt: skip
    if int(text) > most:
        raise UsageError(
            sentence("a stack of {n} is thicker than the saw takes", n=int(text)), "",
            sentence("Write 1 to {most}.", most=most),
        )  # fmt: skip
    return int(text)


def write_project(spec: ProjectSpec, drawing: Path, folder: Path) -> None:
    """Write project.toml and copy the drawing beside it.

    Raises:
        ProjectError: the folder is not free or cannot be written.
    """
    _must_be_free(folder)
    pattern = "pattern" + (drawing.suffix.lower() or ".svg")
    try:
        folder.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(drawing, folder / pattern)
        (folder / PROJECT_FILE).write_text(project_toml(spec, pattern), encoding="utf-8")
    except OSError as error:
        raise ProjectError(
            sentence("{folder} cannot be written", folder=folder),
            str(error),
            "Choose another folder.",
        ) from error


def project_toml(spec: ProjectSpec, pattern: str) -> str:
    """The file's text for a spec whose drawing is called ``pattern``."""
    lines = [
        "[project]",
        f"name = {_quoted(spec.name)}",
        f"pattern = {_quoted(pattern)}",
        f'shaded = "{spec.options.shaded}"  # filled areas are kept; "waste": they are removed',
        f'lines = "{spec.options.lines}"',
    ]
    if spec.options.width_mm is not None:
        lines.append(f"width_mm = {spec.options.width_mm:g}")
    else:
        lines.append("# width_mm = 200  # of the drawing; as drawn while this line is a comment")
    if spec.round_openings != "saw":
        lines.append(f'round_openings = "{spec.round_openings}"')
    lines += [
        "",
        "[board]",
        f"material = {_quoted(spec.material)}",
        f"thickness_mm = {spec.thickness_mm:g}",
        f"stack = {spec.stack}",
        f"margin_mm = {spec.margin_mm:g}",
    ]
    if spec.blade is not None:
        lines += ["", "[blade]", f"number = {_quoted(spec.blade)}"]
    finish = spec.finish
    lines += ["", "[finish]", f'coat = "{finish.coat}"  # paint, varnish, oil, none, raw']
    lines += [f"{key} = true" for key in ("hanging", "backing") if getattr(finish, key)]
    return "\n".join(lines) + "\n"


def _must_be_free(folder: Path) -> None:
    try:
        taken = folder.exists() and (not folder.is_dir() or any(folder.iterdir()))
    except (OSError, ValueError) as error:
        raise ProjectError(
            "the folder cannot be made", str(error)[:200], "Choose another name."
        ) from error
    if taken:
        raise ProjectError(
            sentence("{folder} is there already and not empty", folder=folder),
            "",
            "Name another folder as second word.",
        )


def _name_from(drawing: Path) -> str:
    name = drawing.stem.replace("_", " ").replace("-", " ").strip()
    return name[:1].upper() + name[1:] or "Project"


def _quoted(text: str) -> str:
    """A TOML basic string."""
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return '"' + "".join(c if c.isprintable() else f"\\u{ord(c):04x}" for c in escaped) + '"'
