"""The parser of terminal input, fed what no terminal should send."""

from __future__ import annotations

import codecs
import random

import pytest
from textual._xterm_parser import XTermParser
from textual.events import Key

from companion.tui.input_guard import ForgivingParser, forgive_input
from tests.hostile.test_key_storms import STORMS

RELEASE = "\x1b[57441;1:3u"
"""A key's release in the form of an extended keyboard protocol, never asked for."""


def keys(parser: XTermParser, data: str) -> list[str]:
    return [e.key for e in parser.feed(data) if isinstance(e, Key)]


def test_a_release_that_was_not_asked_for_is_dropped_and_the_next_key_heard() -> None:
    with pytest.raises(ValueError, match="invalid literal"):
        keys(XTermParser(), RELEASE)
    parser = ForgivingParser()
    assert keys(parser, RELEASE) == []
    assert keys(parser, "x") == ["x"]


@pytest.mark.parametrize("seed", range(40))
def test_after_any_storm_stop_is_still_heard(seed: int) -> None:
    chance = random.Random(seed)
    parser = ForgivingParser()
    decode = codecs.getincrementaldecoder("utf-8")(errors="replace").decode
    for _ in range(40):
        text = decode(STORMS[chance.choice(sorted(STORMS))](chance))
        if text:
            list(parser.feed(text))
            list(parser.tick())
    # a paste that is open ends with its own end, a sequence with the driver's short wait
    list(parser.feed("\x1b[201~"))
    parser._timeout_time = parser._timeout_time and 0.0
    list(parser.tick())
    assert keys(parser, "x") == ["x"]


def test_the_driver_uses_it() -> None:
    linux_driver = pytest.importorskip("textual.drivers.linux_driver")
    before = linux_driver.XTermParser, linux_driver.getincrementaldecoder
    try:
        forgive_input()
        assert linux_driver.XTermParser is ForgivingParser
        assert linux_driver.getincrementaldecoder("utf-8")().decode(b"a\x9cb") == "a\ufffdb"
    finally:
        linux_driver.XTermParser, linux_driver.getincrementaldecoder = before
