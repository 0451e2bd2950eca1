"""A second process for the first review of years: ``python -m companion.cli.ahead JOURNAL``.

After a new version of the program, or of a log that was never looked at, both the sittings and
the runs have to be read again. They share nothing but the file, so a second core can take half
of that: what it works out it keeps in the journal, where the review finds it. Whatever goes wrong
here is no loss: what is not kept, the review works out itself.
"""

from __future__ import annotations

import gc
import os
import subprocess
import sys
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

from companion.devices.child import environment, module_command
from companion.errors import KerfsideError
from companion.journal.store import Journal
from companion.review.digest import Elsewhere, keep_ahead


def half_ahead(journal: Journal) -> Elsewhere | None:
    """What begins to work out half of a review in another process; None where that is no help."""
    path = journal.path
    if path is None or (os.cpu_count() or 1) < 2:
        return None

    def begin() -> Callable[[], object]:
        try:
            child = subprocess.Popen(
                [*module_command("companion.cli.ahead"), str(path)],
                stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
                env=environment(),
                creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),
            )  # fmt: skip
        except OSError:
            return lambda: None
        return child.wait

    return begin


def main(path: str) -> None:
    """Work them out and keep them."""
    # as in the review: it leaves no garbage in circles
    gc.disable()
    with suppress(KerfsideError), Journal(Path(path)) as journal:
        keep_ahead(journal)


if __name__ == "__main__":
    main(sys.argv[1])
