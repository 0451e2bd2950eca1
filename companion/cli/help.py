"""``kerfside help``: the reference, and what a shell's tab key completes from."""

from __future__ import annotations

import argparse

from companion.cli import main as line
from companion.cli.reference import Page, common_lines, page_lines, page_of, roff
from companion.cli.tongue import speak, translate, user_words
from companion.errors import EXIT_FINE, UsageError
from companion.sentence import sentence
from companion.words import Words

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
    words = user_words()
    if args.completion is not None:
        print(completion(args.completion, words))
    elif args.roff:
        print(roff(pages(words), words), end="")
    elif args.all:
        told = ["\n".join(page_lines(page, words)) for page in pages(words)]
        print("\n\n\n".join([*told, "\n".join(common_lines(words))]))
    elif args.about is not None:
        page = next(p for p in pages(words) if p.verb == args.about)
        print("\n".join([*page_lines(page, words), "", *common_lines(words)]))
    else:
        _parser(words).print_help()
    return EXIT_FINE


def _parser(words: Words, *filled: str) -> argparse.ArgumentParser:
    speak(words)
    parser = line.build_parser(*filled)
    translate(parser, words)
    return parser


def pages(words: Words) -> list[Page]:
    """Every verb's page of the reference."""
    parsers = line.verb_parsers(_parser(words, *line.VERBS))
    return [page_of(verb, parser, words) for verb, parser in parsers.items()]


def completion(shell: str, words: Words) -> str:
    """The script that lets a shell complete verbs, options, their choices and file names.

    Args:
        shell: bash, zsh or fish.
        words: the language of what some shells tell beside each.
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
    files = {words.told(name): found for name, found in files.items()}
    parser = _parser(words, *line.VERBS)
    for own in line.verb_parsers(parser).values():
        for action in own._actions:  # there is no public way to a parser's arguments
            if action.dest in choices:
                action.choices = choices[action.dest]
            elif action.metavar in files:
                action.complete = files[str(action.metavar)]  # type: ignore[attr-defined]
    return str(shtab.complete(parser, shell))
