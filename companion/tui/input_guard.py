"""Odd input from the terminal is dropped, not the session.

The rule kept here: whatever bytes a terminal, a line or a stray program sends, the screen stays.
The library's driver (its version 8) ends the session on a byte that is no UTF-8 - one letter of a
Latin-1 terminal will do - and on keys in a form it did not ask for, such as the releases that a
terminal goes on sending when another program left that mode on (both measured by sending random
bytes). The driver looks both up by name in its own module, which is the only way in.
"""

from __future__ import annotations

import codecs
import sys
from collections.abc import Iterable
from functools import partial

from textual._parser import ParseError
from textual._xterm_parser import XTermParser
from textual.message import Message


class ForgivingParser(XTermParser):
    """The library's parser, begun anew after what it cannot read."""

    def __init__(self, debug: bool = False) -> None:
        self._asked = debug
        super().__init__(debug)

    def feed(self, data: str) -> Iterable[Message]:
        """Messages of some input; the rest of what cannot be read is lost."""
        try:
            yield from super().feed(data)
        except (ValueError, IndexError, KeyError):
            self.__init__(self._asked)  # type: ignore[misc]  # its state is a generator that died
        except ParseError:
            if not data:  # the end of the input: the driver wants to know
                raise
            self.__init__(self._asked)  # type: ignore[misc]


def forgive_input() -> None:
    """Have the driver use the above and decode what is no UTF-8 as the replacement sign."""
    if sys.platform == "win32":
        return
    from textual.drivers import linux_driver

    if hasattr(linux_driver, "getincrementaldecoder"):
        forgiving = partial(codecs.getincrementaldecoder("utf-8"), errors="replace")
        linux_driver.getincrementaldecoder = lambda _name: forgiving
    if hasattr(linux_driver, "XTermParser"):
        linux_driver.XTermParser = ForgivingParser
