"""The fixture ``row``, and the proof that the written table is what the checks give."""

from __future__ import annotations

import os
from collections.abc import Iterator

import pytest

from tests.published.registry import TABLE, Compare, Rows, one_name, section, sections, whole

WRITE = "KERFSIDE_TABLE"
"""``write`` in this variable: the section is written instead of compared."""


@pytest.fixture(scope="module")
def rows(request: pytest.FixtureRequest) -> Iterator[Rows]:
    """The module's rows; when its last test is through, they must be what the table says."""
    module = request.module
    found = Rows(module.SOURCE)
    yield found
    name = module.__name__.split(".")[-1]
    text = section(name, found)
    title = name.removeprefix("test_")
    kept = sections(TABLE.read_text(encoding="utf-8")) if TABLE.exists() else {}
    if os.environ.get(WRITE) == "write":
        kept[title] = text
        TABLE.write_text(whole(kept), encoding="utf-8")
    elif _whole(request):
        assert kept.get(title) == text, "stale: run python -m tests.tools.published"


def _whole(request: pytest.FixtureRequest) -> bool:
    """Whether every test of the module ran, and passed."""
    option = request.config.option
    picked = option.keyword or any("::" in a for a in request.config.args)
    return not picked and not request.session.testsfailed


@pytest.fixture
def row(rows: Rows, request: pytest.FixtureRequest) -> Compare:
    """Compares with a published figure and keeps the row."""
    spec = getattr(request.node, "callspec", None)
    name = one_name(request.function.__name__, spec.id if spec else "")
    told = (request.function.__doc__ or "").strip().split("\n")[0]
    return Compare(rows, name, told.rstrip("."))
