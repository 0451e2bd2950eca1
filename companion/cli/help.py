"""``kerfside help``: the reference, and what a shell's tab key completes from."""

from __future__ import annotations

import argparse

from companion.cli import main as line
from companion.cli.reference import Page, common_lines, page_lines, page_of, roff
from companion.cli.tongue import translate, user_words
from companion.errors import EXIT_FINE, UsageError
from companion.sentence import sentence

SHELLS = ("bash", "zsh", "fish")


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of this verb."""
    parser.add_argument(
        "about", metavar="ABOUT", nargs="?", help="a verb; without it what all verbs do"
    )
    how = parser.add_mutually_exclusive_group()
    how.add_argument("--all", action="store_true", help="the whole reference, every verb")
    how.add_argument("--roff", action="store_true", help="the whole reference for the man command")
    how.add_argument(
        "--completion", choices=SHELLS, help="what this shell needs to complete verbs and options"
    )


def run(args: argparse.Namespace) -> int:
    """Print what is asked for.

    Raises:
        UsageError: no such verb.
    """
    if args.about is not None and args.about not in line.VERBS:
        raise UsageError(
            sentence("no verb {about!r}", about=args.about),
            "",
            sentence("There are: {known}.", known=", ".join(line.VERBS)),
        )
    if args.completion is not None:
        print(completion(args.completion))
    elif args.roff:
        print(roff("a guided companion at the scroll saw", pages()), end="")
    elif args.all:
        told = ["\n".join(page_lines(page)) for page in pages()]
        print("\n\n\n".join([*told, "\n".join(common_lines())]))
    elif args.about is not None:
        print("\n".join([*page_lines(page(args.about)), "", *common_lines()]))
    else:
        parser = line.build_parser()
        translate(parser, user_words())
        parser.print_help()
    return EXIT_FINE


def page(verb: str) -> Page:
    """The reference page of one verb."""
    return page_of(verb, line.verb_parsers(line.build_parser(verb))[verb])


def pages() -> list[Page]:
    """Every verb's."""
    parsers = line.verb_parsers(line.build_parser(*line.VERBS))
    return [page_of(verb, parser) for verb, parser in parsers.items()]


def completion(shell: str) -> str:
    """The script that lets a shell complete verbs, options, their choices and file names.

    Args:
        shell: bash, zsh or fish.
    """
    import shtab

    from companion.shop import practice, tables

    choices: dict[str, list[str]] = {
        "about": list(line.VERBS), "level": [level.key for level in practice.levels()],
        "material": sorted(tables.materials()), "skill": list(tables.SKILLS),
    }  # fmt: skip
    files = {
        "PROJECT": shtab.glob("*.svg", "*.toml"), "DRAWING": shtab.glob("*.svg"),
        "FILE": shtab.FILE, "FOLDER": shtab.DIRECTORY,
    }  # fmt: skip
    parser = line.build_parser(*line.VERBS)
    for own in line.verb_parsers(parser).values():
        for action in own._actions:  # there is no public way to a parser's arguments
            if action.dest in choices:
                action.choices = choices[action.dest]
            elif action.metavar in files:
                action.complete = files[action.metavar]  # type: ignore[attr-defined]
    return str(shtab.complete(parser, shell))
