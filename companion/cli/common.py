"""What several verbs share: the project's arguments, settings, and the plan with its cache."""

from __future__ import annotations

import argparse
import contextlib
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from companion.devices.paths import (
    cache_folder,
    data_folder,
    resolve_project,
    settings_file,
    shipped,
)
from companion.errors import JournalError, UsageError
from companion.planner.cache import cached_plan, store_plan
from companion.planner.plan import Plan
from companion.planner.project import (
    LINES,
    ROUND_OPENINGS,
    SHADED,
    Overrides,
    ProjectSpec,
    load_project,
)
from companion.planner.timing import Calibration
from companion.review.kept import in_force
from companion.sentence import sentence
from companion.shop.model import Settings
from companion.shop.settings import default_settings, load_settings
from companion.units import length_mm
from companion.words import Words, words_for

if TYPE_CHECKING:
    from companion.journal.store import Journal


def add_project_arguments(parser: argparse.ArgumentParser) -> None:
    """Add PROJECT and the flags that stand in for project.toml, or override it."""
    parser.add_argument(
        "project", metavar="PROJECT", type=Path, help="folder, its project.toml, or a bare .svg"
    )
    add_override_flags(parser)


def add_override_flags(parser: argparse.ArgumentParser) -> None:
    """Add the flags of the project alone."""
    group = parser.add_argument_group("instead of project.toml, or over it")
    group.add_argument(
        "--width", metavar="LENGTH", help="width of the pattern's ink, e.g. 200mm or 7.5in"
    )
    group.add_argument("--material", metavar="NAME", help="kind of board, e.g. mdf, birch-plywood")
    group.add_argument("--thickness", metavar="LENGTH", help="of one board, e.g. 6mm or 1/4in")
    group.add_argument("--stack", metavar="N", type=int, help="boards cut at once")
    group.add_argument("--shaded", choices=SHADED, help="filled areas are kept, or removed")
    group.add_argument("--lines", choices=LINES, help="strokes are cut lines, or ink")
    group.add_argument("--blade", metavar="NUMBER", help="blade size, e.g. 2/0 or 3")
    group.add_argument(
        "--round-openings", choices=ROUND_OPENINGS,
        help="round openings the size of an own drill are sawn, or drilled to size",
    )  # fmt: skip


def length_given(text: str) -> float:
    """A length in mm from a flag; a bare number is in the user's own unit.

    Raises:
        UsageError: not a length.
        ShopError: the settings file cannot be used.
    """
    return length_mm(text, "in" if user_settings()[0].inch else "mm")


def overrides_from(args: argparse.Namespace) -> Overrides:
    """The flags as overrides.

    Raises:
        UsageError: not a length.
    """
    return Overrides(
        width_mm=None if args.width is None else length_given(args.width),
        material=args.material,
        thickness_mm=None if args.thickness is None else length_given(args.thickness),
        stack=args.stack,
        shaded=args.shaded,
        lines=args.lines,
        blade=args.blade,
        round_openings=args.round_openings,
    )


def spec_from(args: argparse.Namespace) -> ProjectSpec:
    """The project as the flags and its file ask for it.

    Raises:
        UsageError, ProjectError: a flag or a key is off.
    """
    return load_project(resolve_project(args.project), overrides_from(args))


def user_settings() -> tuple[Settings, Words]:
    """The user's settings and language.

    Raises:
        ShopError: the settings file cannot be used.
    """
    settings = load_settings(settings_file())
    return settings, words_for(settings.language, settings.inch)


def calibration(settings: Settings) -> Calibration:
    """What was last learnt from the log of this saw and sawyer.

    Raises:
        ShopError: its file cannot be read.
    """
    return in_force(data_folder(), settings)


def marks(settings: Settings) -> dict[str, str]:
    """What a session's start tells of who stands at which saw."""
    return {"saw": settings.saw.name, "sawyer": settings.sawyer}


def work_out(journal: Journal) -> None:
    """Keep what a review needs of the sitting that just ended, so that no review waits for it.

    What cannot be kept now is worked out by the next review.
    """
    from companion.review.digest import keep_up

    with contextlib.suppress(JournalError):
        keep_up(journal)


def planned(
    spec: ProjectSpec,
    settings: Settings,
    words: Words,
    progress: Callable[[float, str], None] | None = None,
    should_stop: Callable[[], bool] | None = None,
    calibrated: Calibration | None = None,
) -> Plan:
    """The plan from the cache, or made and kept there.

    Args:
        spec: what is asked.
        settings: the user's.
        words: the language.
        progress: told share done and what is done.
        should_stop: asked now and then.
        calibrated: None: what was last learnt from the log of this saw and sawyer.

    Raises:
        KerfsideError: see ``companion.planner.make.plan_project``.
    """
    folder = cache_folder()
    learnt = calibration(settings) if calibrated is None else calibrated
    found = cached_plan(spec, settings, folder, learnt)
    if found is not None:
        return found
    # geometry is imported only when a plan has to be made
    from companion.planner.make import plan_project

    plan = plan_project(spec, settings, words, progress, should_stop, learnt)
    store_plan(plan, spec, settings, folder, learnt)
    return plan


def shipped_plan(name: str) -> Plan:
    """The plan of a demo project with default settings, made afresh.

    Args:
        name: of its folder under demo_projects.
    """
    from companion.planner.make import plan_project

    return plan_project(load_project(shipped("demo_projects") / name), default_settings())


def write_whole(path: Path, content: bytes) -> None:
    """Write a file whole or not at all.

    Raises:
        UsageError: it cannot be written.
    """
    beside = path.with_name(f".{path.name}.part")
    try:
        beside.write_bytes(content)
        beside.replace(path)
    except OSError as error:
        with contextlib.suppress(OSError):
            beside.unlink(missing_ok=True)
        raise UsageError(
            sentence('cannot write {path}', path=path), error.strerror or str(error),
            "Name a file in a folder that exists and that you may write to.",
        ) from error  # fmt: skip


def progress_line() -> Callable[[float, str], None] | None:
    """A reporter that rewrites one line of a terminal; None when stderr is none."""
    if not sys.stderr.isatty():
        return None

    def tell(share: float, doing: str) -> None:
        text = f"{share:4.0%} {doing}"
        end = "\r" if share < 1.0 else "\r" + " " * 60 + "\r"
        sys.stderr.write(f"\r{text:<60}" + end)
        sys.stderr.flush()

    return tell
