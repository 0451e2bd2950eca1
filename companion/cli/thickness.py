"""``kerfside check --thickness-svg`` and ``--show-thickness``: where the wood is thin."""

from __future__ import annotations

import shutil
import sys
from pathlib import Path

from companion.cli.common import write_whole
from companion.planner.plan import Plan
from companion.planner.project import ProjectSpec
from companion.shop import tables
from companion.words import Words

MOST_ROWS = 40


def run(file: Path | None, show: bool, spec: ProjectSpec, plan: Plan, words: Words) -> None:
    """Write the picture, show it, or both.

    Args:
        file: where to write the SVG; None writes none.
        show: print it on the terminal.
        spec: the project.
        plan: its plan; blade and board are taken from it.
        words: the language.
    """
    from threadpoolctl import threadpool_limits

    from companion.draw.thickness_picture import (
        MOST_NECKS,
        neck_lines,
        thickness_cells,
        thickness_svg,
    )
    from companion.pattern.reader import read_pattern
    from companion.planner.weak import weak_places

    pattern = read_pattern(spec.pattern, spec.options)
    board_mm = plan.board.thickness_mm
    with threadpool_limits(limits=1):  # as for a plan: threads would only wait for each other
        found = weak_places(
            pattern, tables.material(spec.material), board_mm, tables.blade(plan.blade.number)
        )
    if file is not None:
        write_whole(file, thickness_svg(pattern, found, board_mm, spec.name, words).encode())
    if show:
        columns, rows = shutil.get_terminal_size((80, 24))
        mode = "braille" if "utf" in (sys.stdout.encoding or "").lower() else "ascii"
        frame = thickness_cells(
            pattern, found, board_mm, columns - 1, min(max(rows - 12, 10), MOST_ROWS),
            "braille" if mode == "braille" else "ascii",
        )  # fmt: skip
        lines = [line.rstrip() for line in frame.text().splitlines()]
        picture = "\n".join(lines).strip("\n")
        print("\n".join([picture, "", *neck_lines(found.weakest(MOST_NECKS), words), ""]))
