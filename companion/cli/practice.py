"""``kerfside practice``: graded patterns, progress, the next level, and why."""

from __future__ import annotations

import argparse
import json
import time
from dataclasses import replace
from pathlib import Path

from companion.cli import common
from companion.cli.new import project_toml
from companion.cli.wrapping import COLUMNS, show, wrapped
from companion.devices.paths import journal_file
from companion.errors import EXIT_FINE, ProjectError, UsageError
from companion.journal.store import Journal
from companion.pattern.options import ReadOptions
from companion.planner.practice import drawing, lines_mode, outside_start
from companion.planner.project import PROJECT_FILE, ProjectSpec
from companion.review.practice import Progress, mark_entry, progress, proposed
from companion.sentence import sentence
from companion.shop import practice, tables
from companion.shop.finishing import Finish
from companion.shop.practice import Level
from companion.words import Words

PATTERN = "pattern.svg"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of this verb."""
    parser.add_argument(
        "level", metavar="LEVEL", nargs="?",
        help="key or number of a level; without it all are listed, with what is learnt",
    )  # fmt: skip
    parser.add_argument(
        "-o", "--out", metavar="FOLDER", type=Path, help="write the level as a project folder"
    )
    parser.add_argument(
        "--mark", metavar="N", type=int,
        help="mark the level's last run on the wobble scale, 0 (on the line) to 5",
    )  # fmt: skip
    parser.add_argument("--material", metavar="NAME", help="of the board, e.g. birch-plywood")
    parser.add_argument("--json", action="store_true", help="levels and progress as JSON")
    why = parser.add_argument_group("why things are done as they are")
    why.add_argument(
        "--why", metavar="TOPIC", nargs="?", const="",
        help="the page about a stage, a turn, a finding's code; without TOPIC the list of pages",
    )  # fmt: skip
    why.add_argument("--svg", metavar="FILE", type=Path, help="write that page's picture")
    why.add_argument(
        "--guide", metavar="FILE", type=Path,
        help="write all reasons, all levels and the finishing as one page with pictures",
    )  # fmt: skip


def run(args: argparse.Namespace) -> int:
    """List, write, mark, or tell why.

    Raises:
        UsageError: an unknown level or topic, or a mark that is none.
    """
    _, words = common.user_settings()
    if args.guide is not None:
        from companion.cli.guide import guide_page

        common.write_whole(args.guide, guide_page(words).encode())
        show(words.say("Wrote {file}.", file=args.guide))
        return EXIT_FINE
    if args.why is not None:
        from companion.cli import reasons

        reasons.show(args.why, args.svg, words)
        return EXIT_FINE
    if args.level is None:
        if args.out is not None or args.mark is not None:
            raise UsageError("which level?", "", "Name one, e.g. kerfside practice lines -o lines.")
        return _list(args.json, words)
    level = practice.level(args.level)
    if args.out is not None:
        write_level(level, args.out, args.material)
        show(words.say("Made {folder}.", folder=args.out))
        show(words.say("Next: kerfside sheet {folder}, then kerfside saw {folder}.",
                        folder=args.out))  # fmt: skip
        show(words.say("Afterwards: kerfside practice {key} --mark N, 0 best to 5.",
                        key=level.key))  # fmt: skip
    if args.mark is not None:
        _mark(level, args.mark, words)
    if args.out is None and args.mark is None:
        return _show(level, args.json, words)
    return EXIT_FINE


def write_level(level: Level, folder: Path, material: str | None = None) -> None:
    """Write a level as an ordinary project folder.

    Args:
        level: which one.
        folder: must not be there, or be empty.
        material: key of the board's material; None: the default.

    Raises:
        ProjectError: the folder is not free or cannot be written.
        ShopError: an unknown material.
    """
    # left raw: it is judged by its printed line, which sanding and peeling would take away
    spec = ProjectSpec(
        level.project, folder, folder / PATTERN, ReadOptions(lines=lines_mode(level)),
        finish=Finish("raw"),
    )  # fmt: skip
    if material is not None:
        spec = replace(spec, material=tables.material(material).key)
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise ProjectError(
            sentence("{folder} is there already and not empty", folder=folder),
            "",
            "Name another folder.",
        )
    head = f"# {level.title}. {level.trains}\n# The log knows the level by the project's name.\n"
    head += f"# Afterwards: kerfside practice {level.key} --mark N\n"
    tail = ""
    start = outside_start(level)
    if start is not None:
        # away from the ends of the lines, whose own holes stand beside the plate
        x, y = start[0] + spec.margin_mm, start[1] + spec.margin_mm
        tail = f"\n[[pin]]\npiece = 1\nstart_mm = [{x:g}, {y:g}]\n"
    text = head + project_toml(spec, PATTERN) + tail
    try:
        folder.mkdir(parents=True, exist_ok=True)
        (folder / PATTERN).write_text(drawing(level), encoding="utf-8")
        (folder / PROJECT_FILE).write_text(text, encoding="utf-8")
    except OSError as error:
        raise ProjectError(
            sentence("{folder} cannot be written", folder=folder),
            str(error),
            "Choose another folder.",
        ) from error


def _progress() -> tuple[Progress, ...]:
    levels, rule = practice.levels(), practice.rule()
    path = journal_file()
    if not path.is_file():
        # nothing logged yet: reading must not make a journal
        with Journal(None) as empty:
            return progress(empty, levels, rule)
    with Journal(path) as journal:
        return progress(journal, levels, rule)


def reminder(project: str, words: Words) -> str:
    """What to say after a session: how to mark a level's run that is done; else empty.

    Args:
        project: its name as logged.
        words: the language.
    """
    level = next((one for one in practice.levels() if one.project == project), None)
    if level is None:
        return ""
    with Journal(journal_file()) as journal:
        tried = progress(journal, [level], practice.rule())[0].tried
    if not tried or not tried[-1].done or tried[-1].mark is not None:
        return ""
    return words.say("Look at it, then mark it: kerfside practice {key} --mark N, 0 best to 5.",
                     key=level.key)  # fmt: skip


def _mark(level: Level, mark: int, words: Words) -> None:
    scale = practice.marks()
    if not 0 <= mark < len(scale):
        raise UsageError(
            sentence("no mark {mark}", mark=mark),
            "",
            sentence("Give 0 to {scale}; 0 is best.", scale=len(scale) - 1),
        )
    with Journal(journal_file()) as journal:
        of = progress(journal, [level], practice.rule())[0]
        journal.append([mark_entry(of, mark, time.time())])
    show(words.say("Marked {mark}: {text}", mark=mark, text=words.say(scale[mark].text)))
    done = _progress()
    show(_next_line(proposed(done, practice.rule()), words))


def _next_line(level: Level | None, words: Words) -> str:
    if level is None:
        return words.say("All levels are learnt. Take a pattern of your own.")
    return words.say("Next: {key}, {title}.", key=level.key, title=words.say(level.title))


def _list(as_json: bool, words: Words) -> int:
    done = _progress()
    after = proposed(done, practice.rule())
    if as_json:
        told = {
            "schema": 1,
            "next": after.key if after else None,
            "levels": [_plain(p) for p in done],
        }
        print(json.dumps(told, ensure_ascii=False, indent=1))
        return EXIT_FINE
    for p in done:
        signs = (">" if p.level is after else " ") + ("x" if p.learnt else " ")
        head = f"{signs}{p.level.number:3}  {p.level.key:<13} {words.say(p.level.title):<38} "
        so_far = _told(p, words)
        # runs, marks and times have a line of their own where they would not fit
        print(
            f"{head}{so_far}"
            if len(head) + len(so_far) <= COLUMNS
            else f"{head.rstrip()}\n{'':7}{so_far}"
        )
    rule = practice.rule()
    print()
    show(_next_line(after, words))
    show("\n".join(wrapped(words.say(
        "Learnt (x): the last {runs} marks are {mark} or better. After a mark of {back} or worse "
        "the level before comes once more.",
        runs=rule.pass_runs, mark=rule.pass_mark, back=rule.back_mark,
    ))))  # fmt: skip
    return EXIT_FINE


def _told(p: Progress, words: Words) -> str:
    """Runs, marks and times of a level in a few words."""
    if not p.tried:
        return words.say("not tried")
    parts = [words.count("{n} run", "{n} runs", len(p.tried))]
    if p.marks:
        parts.append(words.say("marks {marks}", marks=" ".join(str(m) for m in p.marks)))
    else:
        parts.append(words.say("not marked"))
    if p.best_min is not None:
        parts.append(words.say("best {n} min", n=f"{p.best_min:.0f}"))
    return ", ".join(parts)


def _plain(p: Progress) -> dict[str, object]:
    return {
        "key": p.level.key, "number": p.level.number, "title": p.level.title,
        "trains": p.level.trains, "judge": p.level.judge, "learnt": p.learnt,
        "runs": [
            {"begun_s": t.begun_s, "done": t.done, "minutes": round(t.took_min, 2),
             "planned_min": round(t.planned_min, 2), "mark": t.mark}
            for t in p.tried
        ],
    }  # fmt: skip


def _show(level: Level, as_json: bool, words: Words) -> int:
    """One level: what it trains, how to judge it, what has been done."""
    p = next(p for p in _progress() if p.level.key == level.key)
    if as_json:
        print(json.dumps(_plain(p), ensure_ascii=False, indent=1))
        return EXIT_FINE
    say = words.say
    show(f"{level.number}. {say(level.title)}")
    lines = wrapped(say("Trains: {text}", text=say(level.trains)))
    lines += wrapped(say("Judge: {text}", text=say(level.judge)))
    lines.append(say("Mark the worst place:"))
    for mark in practice.marks():
        lines += wrapped(say(mark.text), f"  {mark.value}  ")
    show("\n".join(lines))
    show(_told(p, words))
    for t in p.tried:
        day = time.strftime("%Y-%m-%d", time.localtime(t.begun_s))
        state = say("done") if t.done else say("open")
        given = "-" if t.mark is None else str(t.mark)
        show(say("  {day}  {state}, {took} min (planned {planned}), mark {mark}", day=day,
                  state=state, took=f"{t.took_min:.0f}", planned=f"{t.planned_min:.0f}",
                  mark=given))  # fmt: skip
    show(say("Write it: kerfside practice {key} -o FOLDER", key=level.key))
    return EXIT_FINE
