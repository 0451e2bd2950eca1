"""Keeps the sentence catalogues: collect, merge, compile.

    python -m tests.tools.catalogue

Collects every literal sentence given to ``Words.say`` and ``Words.count``, those that
layers without language tell (``sentence``, ``counted``, errors, the reader's findings),
those that stand in constants, the command line's help, and every sentence of the shop's
tables that is shown or spoken, merges them into each
language's ``kerfside.po`` (translations kept, new ones empty), and compiles the
``kerfside.mo`` that the program reads. Line numbers are left out on purpose:
the file then changes only when a sentence does.
"""

from __future__ import annotations

import ast
import io
import re
import tomllib
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, get_args

from babel.messages.catalog import Catalog
from babel.messages.extract import extract
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po, write_po

from companion.cli import hear, plain, reference, setup
from companion.cli.main import VERBS, build_parser, verb_parsers
from companion.cli.tongue import ARGPARSE, example_texts, help_texts
from companion.devices import pedal
from companion.devices.voice import client
from companion.planner.plan import Stage
from companion.session import announce, drilling
from companion.shop.reasons import pages
from companion.tui import actions, face

PACKAGE = Path(__file__).parents[2] / "companion"
LOCALES = PACKAGE / "words" / "locales"
SPOKEN_KEYS = frozenset(
    {
        "say",
        "why",
        "title",
        "name",
        "steps",
        "text",
        "remedy",
        "signal",
        "caption",
        "trains",
        "judge",
    }
)
"""Keys of the tables whose values are sentences for the sawyer."""
SPOKEN_TABLES = (
    "checklist.toml", "mishaps.toml", "finishing.toml", "materials.toml",
    "reasons/pages.toml", "practice/levels.toml",
)  # fmt: skip
DROPPED = tuple(
    f'"{name}'
    for name in ("POT-", "PO-Rev", "Generated", "Project-Id", "Report", "Last-Tr", "Language-Team")
)
"""Header lines that change without a sentence changing, or say nothing."""
TELLS = re.compile(
    r"(?:^|[._])(?:(?:Usage|Pattern|Project|Shop|Plan|Journal|Pedal)Error|StopFinding|_?bad)$"
)
"""Calls whose arguments are told to the user."""
PROSE = re.compile(r"^[^\\\[\]]*[a-z][^\\\[\]]* [^\\\[\]]*$")
"""More than one word, and no expression for a search."""
LETTERS = re.compile(r"[A-Za-z]{2}")
FIELD = re.compile(r"{[^{}]*}")
Sentence = str | tuple[str, str]


def in_code() -> Iterator[Sentence]:
    """Sentences that stand in the code."""
    keywords = {"say": None, "sentence": None, "count": (1, 2), "counted": (1, 2)}
    for path in sorted(PACKAGE.rglob("*.py")):
        found = extract("python", io.BytesIO(path.read_bytes()), keywords=keywords)
        for _line, message, _comments, _context in found:
            yield message if isinstance(message, str) else (message[0], message[1])


def _texts(node: ast.AST) -> Iterator[str]:
    """Texts that stand in an argument, not those of calls within it."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        yield node.value
    elif isinstance(node, ast.IfExp):
        yield from (*_texts(node.body), *_texts(node.orelse))


def in_errors() -> Iterator[Sentence]:
    """What errors tell: title, cause and remedy."""
    for path in sorted(PACKAGE.rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and TELLS.search(ast.unparse(node.func)):
                for argument in node.args:
                    yield from filter(PROSE.search, _texts(argument))


def in_reader() -> Iterator[Sentence]:
    """What the reader tells: every text of more than one word in it that is no docstring."""
    for path in sorted((PACKAGE / "pattern").glob("*.py")):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        left_out = {n.value for n in ast.walk(tree) if isinstance(n, ast.Expr)}
        for node in ast.walk(tree):
            if isinstance(node, ast.JoinedStr):
                left_out.update(node.values)
            if isinstance(node, ast.Call) and ast.unparse(node.func) == "counted":
                left_out.update(node.args)
        for node in ast.walk(tree):
            if isinstance(node, ast.Constant) and node not in left_out:
                yield from filter(PROSE.search, _texts(node))


def in_help() -> Iterator[Sentence]:
    """What ``--help`` tells."""
    parser = build_parser(*VERBS)
    for one in (parser, *verb_parsers(parser).values()):
        yield from help_texts(one)
    if parser.epilog:
        yield parser.epilog
    yield from (*example_texts(), *reference.texts(), *ARGPARSE)


def in_constants() -> Iterator[Sentence]:
    """Sentences that stand in constants, and are said by those constants' names."""
    yield from (plain.HELP, face.TOO_QUICK, pedal.DESKTOP_KEY)
    for action in actions.ACTIONS:
        yield from (action.label, action.sentence)
    yield from (question.ask for question in setup.QUESTIONS)
    yield from (meaning for _, meaning in hear.CUES)
    yield from (*client.STATUS_TEXT.values(), *client.STATUS_MARK.values())
    yield from pedal.TERMINAL_KEYS.values()
    yield from face.STAGE_WORDS.values()
    yield from face.TURNS_COUNTED.values()
    yield from announce.TOLD.values()
    yield from announce.REASON.values()
    yield from drilling.THIRDS.values()
    yield from get_args(Stage)


def _in_table(value: Any, spoken: bool) -> Iterator[str]:  # noqa: ANN401  # TOML is untyped
    if isinstance(value, str):
        if spoken and value:
            yield value
    elif isinstance(value, list):
        for item in value:
            yield from _in_table(item, spoken)
    elif isinstance(value, dict):
        for key, item in value.items():
            yield from _in_table(item, key in SPOKEN_KEYS)


def in_tables() -> Iterator[Sentence]:
    """Sentences that stand in the shop's tables."""
    for name in SPOKEN_TABLES:
        table = tomllib.loads((PACKAGE / "shop" / "data" / name).read_text(encoding="utf-8"))
        yield from _in_table(table, False)
    yield from (page.source for page in pages().values())


def collected() -> Catalog:
    """All sentences, untranslated."""
    catalog = Catalog(project="kerfside", charset="utf-8", fuzzy=False)
    catalog.creation_date = catalog.revision_date = None  # type: ignore[assignment]
    told = [*in_code(), *in_errors(), *in_reader(), *in_help(), *in_constants(), *in_tables()]
    for sentence in told:
        if not LETTERS.search(FIELD.sub("", str(sentence))):
            continue
        flags = ["python-brace-format"] if "{" in str(sentence) else []
        catalog.add(sentence, flags=flags)
    return catalog


def merged(language: str) -> Catalog:
    """A language's catalogue with all sentences of today."""
    path = LOCALES / language / "LC_MESSAGES" / "kerfside.po"
    if path.exists():
        catalog = read_po(path.open("rb"), locale=language)
    else:
        catalog = Catalog(locale=language, charset="utf-8")
    catalog.update(collected(), no_fuzzy_matching=True, update_header_comment=False)
    catalog.obsolete.clear()
    catalog.fuzzy = False
    catalog.header_comment = f"# The sentences of Kerfside, {language}. MIT, as the project."
    return catalog


def po_bytes(catalog: Catalog) -> bytes:
    """The text form, sorted, without dates and places."""
    out = io.BytesIO()
    write_po(out, catalog, no_location=True, sort_output=True, omit_header=False, width=100)
    lines = out.getvalue().decode().split("\n")
    kept = [x for x in lines if not x.startswith(DROPPED)]
    return "\n".join(kept).encode()


def mo_bytes(catalog: Catalog) -> bytes:
    """The compiled form."""
    out = io.BytesIO()
    # the header would carry the minute of writing
    catalog.creation_date = catalog.revision_date = datetime(2026, 1, 1, tzinfo=UTC)
    write_mo(out, catalog)
    return out.getvalue()


def main() -> None:
    """Bring every language up to date."""
    for folder in sorted(p for p in LOCALES.iterdir() if p.is_dir()):
        catalog = merged(folder.name)
        target = folder / "LC_MESSAGES"
        target.mkdir(exist_ok=True)
        (target / "kerfside.po").write_bytes(po_bytes(catalog))
        (target / "kerfside.mo").write_bytes(mo_bytes(read_po(io.BytesIO(po_bytes(catalog)))))
        open_ones = sum(1 for m in catalog if m.id and not any(_strings(m.string)))
        print(f"{folder.name}: {len(catalog)} sentences, {open_ones} not translated")


def _strings(value: str | tuple[str, ...] | list[str] | None) -> list[str]:
    return [value] if isinstance(value, str) else list(value or ())


if __name__ == "__main__":
    main()
