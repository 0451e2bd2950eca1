"""The command line's own words in the user's language: help, refusals, error messages.

A parser is built in English, the language of the code, and translated before it is
used; argparse's own phrases go through gettext's global domain, which is its seam.
"""

from __future__ import annotations

import argparse
import gettext
import os
from collections.abc import Iterator

from companion.cli.examples import EXAMPLES
from companion.devices.paths import settings_file
from companion.errors import KerfsideError
from companion.shop.settings import load_settings
from companion.words import ENGLISH, Words, words_for
from companion.words.catalogue import LOCALES

ARGPARSE = (
    "usage: ", "positional arguments", "options", "show this help message and exit",
    "show program's version number and exit", "%(prog)s: error: %(message)s\n",
    "the following arguments are required: %s", "unrecognized arguments: %s",
    "argument %(argument_name)s: %(message)s", "expected one argument",
    "invalid choice: %(value)r (choose from %(choices)s)", "invalid %(type)s value: %(value)r",
    "not allowed with argument %s", "ambiguous option: %(option)s could match %(matches)s",
    "one of the arguments %s is required", "ignored explicit argument %r",
)  # fmt: skip
"""What argparse says by itself, as its source of Python 3.11 to 3.13 has it."""
HEADING = "examples:"
DOMAIN = "kerfside"
OWN_GROUPS = 2
"""Groups that argparse makes by itself: positional arguments and options."""
_COMMANDS = {command for examples in EXAMPLES.values() for command, _ in examples}


def user_words() -> Words:
    """The user's language and unit; plain English while the settings cannot be used."""
    try:
        settings = load_settings(settings_file())
    except KerfsideError:
        return ENGLISH
    return words_for(settings.language, settings.inch)


def help_texts(parser: argparse.ArgumentParser) -> Iterator[str]:
    """What ``--help`` of one parser tells, examples left out: they have their own table."""
    yield from (t for t in (parser.description,) if t)
    for group in parser._action_groups:
        yield from (t for t in (group.title, group.description) if t)
    for action in parser._actions:
        if action.help and action.help != argparse.SUPPRESS:
            yield action.help
        if _stands_for(action):
            yield str(action.metavar)
        if isinstance(action, argparse._SubParsersAction):
            yield from (str(choice.help) for choice in action._choices_actions)


def example_texts() -> Iterator[str]:
    """What the examples tell."""
    yield HEADING
    for examples in EXAMPLES.values():
        yield from (what for _, what in examples)


def speak(words: Words) -> None:
    """Let argparse itself speak the user's language; to be called before a parser is built."""
    if words.language == "en" and gettext.textdomain() != DOMAIN:
        return
    gettext.bindtextdomain(DOMAIN, str(LOCALES))
    gettext.textdomain(DOMAIN)
    # the one way to tell gettext's global functions which language is meant
    os.environ["LANGUAGE"] = words.language


def translate(parser: argparse.ArgumentParser, words: Words) -> None:
    """Put what a parser and those of its verbs tell into the user's language, in place."""
    if words.language == "en":
        return
    _one(parser, words)
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            for choice in action._choices_actions:
                choice.help = words.told(str(choice.help))
            for own in action.choices.values():
                _one(own, words)


def _one(parser: argparse.ArgumentParser, words: Words) -> None:
    parser.description = words.told(parser.description or "")
    parser.epilog = "\n".join(_line(x, words) for x in (parser.epilog or "").split("\n"))
    for group in parser._action_groups[OWN_GROUPS:]:
        group.title = words.told(group.title or "")
        group.description = words.told(group.description or "") or None
    for action in parser._actions:
        own = isinstance(action, argparse._HelpAction)  # argparse has translated that one
        if action.help and action.help != argparse.SUPPRESS and not own:
            action.help = words.told(action.help)
        if _stands_for(action):
            action.metavar = words.told(str(action.metavar))


def _stands_for(action: argparse.Action) -> bool:
    """Whether an argument is shown by a word for it, as FILE; N is one in every language."""
    return isinstance(action.metavar, str) and len(action.metavar) > 1


def _line(text: str, words: Words) -> str:
    """A line of the end: a command as it is, what is told about it in the user's language."""
    told = text.strip()
    return text if told in _COMMANDS else text.replace(told, words.told(told))
