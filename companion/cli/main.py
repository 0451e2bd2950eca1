"""The command line: finds the verb, runs it, turns errors into one clear message.

Each verb is a module of this package with ``add_arguments(parser)`` and
``run(args) -> int``; it is imported only when asked for, so that no verb pays
for another's imports.
"""

from __future__ import annotations

import argparse
import contextlib
import importlib
import io
import os
import sys
from collections.abc import Sequence

from companion import __version__
from companion.cli.examples import epilog
from companion.cli.tongue import speak, translate, user_words
from companion.cli.wrapping import show
from companion.errors import EXIT_BAD_INPUT, EXIT_FINE, EXIT_INTERRUPTED, KerfsideError

VERBS: dict[str, str] = {
    "new": "make a project folder from a drawing",
    "check": "list what was found in a pattern, before any wood is touched",
    "plan": "list holes, cuts, steps and minutes",
    "sheet": "write the true-size PDF that is glued to the board",
    "saw": "open the companion at the saw",
    "review": "look at sessions, times and mishaps afterwards",
    "practice": "write graded practice patterns and show progress",
    "setup": "tell about the saw, the pedal, the voice and the viewing distance",
    "help": "print the reference, or what a shell's tab key completes from",
}


def build_parser(*filled: str) -> argparse.ArgumentParser:
    """The parser; only the asked verbs' own arguments are filled in.

    Args:
        filled: the verbs whose modules are to be imported; none, for the list of verbs.
    """
    parser = argparse.ArgumentParser(
        prog="kerfside",
        description="From a drawn pattern to a cut piece: plan, sheet, guided cutting, review.",
        epilog="PROJECT is a folder with project.toml, that file, or a bare .svg. "
        "kerfside help VERB tells all of a verb, kerfside VERB --help its options. "
        "The saw's manual, local codes and licensed practice come first.",
    )
    parser.add_argument("--version", action="version", version=f"kerfside {__version__}")
    verbs = parser.add_subparsers(dest="verb", metavar="VERB", required=True)
    for name, text in VERBS.items():
        sub = verbs.add_parser(
            name, help=text, description=text[0].upper() + text[1:] + ".", epilog=epilog(name),
            formatter_class=argparse.RawDescriptionHelpFormatter,
        )  # fmt: skip
        if name in filled:
            importlib.import_module(f"companion.cli.{name}").add_arguments(sub)
    return parser


def verb_parsers(parser: argparse.ArgumentParser) -> dict[str, argparse.ArgumentParser]:
    """Each verb's own parser, by its name, of a parser from :func:`build_parser`."""
    # there is no public way from a parser to its verbs
    own = next(a for a in parser._actions if isinstance(a, argparse._SubParsersAction))
    return {name: sub for name, sub in own.choices.items()}


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; the exit codes are those of companion.errors."""
    args_in = list(sys.argv[1:] if arguments is None else arguments)
    _open_streams()
    verb = next((a for a in args_in if a in VERBS), None)
    words = user_words()
    speak(words)
    parser = build_parser(*([] if verb is None else [verb]))
    translate(parser, words)
    if not args_in:
        parser.print_help(sys.stderr)
        return EXIT_BAD_INPUT
    args = parser.parse_args(args_in)
    try:
        code: int = importlib.import_module(f"companion.cli.{args.verb}").run(args)
        sys.stdout.flush()
        return code
    except KerfsideError as error:
        show(f"kerfside: {user_words().error(error)}", sys.stderr)
        return error.exit_code
    except BrokenPipeError:
        # the reader of our output went away (``kerfside plan X | head``)
        _drop_output()
        return EXIT_FINE
    except OSError as error:
        # a full disk behind the output, a folder that went away: verbs tell what they know of
        told = user_words().say("the system refuses: {error}", error=error)
        show(f"kerfside: {told}", sys.stderr)
        _drop_output()
        return EXIT_BAD_INPUT
    except KeyboardInterrupt:
        return EXIT_INTERRUPTED
    except RecursionError:
        deep = user_words().say("the input is nested too deeply. Simplify it.")
        show(f"kerfside: {deep}", sys.stderr)
        return EXIT_BAD_INPUT


def _open_streams() -> None:
    """Have streams to write on, and letters that an odd terminal lacks shown as ``?``."""
    if sys.stdout is None:
        sys.stdout = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115  # for the whole run
    if sys.stderr is None:
        sys.stderr = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115
    if isinstance(sys.stdout, io.TextIOWrapper):
        sys.stdout.reconfigure(errors="replace")


def _drop_output() -> None:
    """Let nothing that is still held back fail once more when Python ends."""
    with contextlib.suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


if __name__ == "__main__":
    raise SystemExit(main())
