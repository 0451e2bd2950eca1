"""What can go wrong, told so that a sawyer can mend it.

Every error the program raises on purpose has a title (what), a cause (where and
why) and a remedy (what to do next), and an exit code. The tree::

    KerfsideError            2
    ├── UsageError           2   the command's words are off
    ├── PatternError         2   the drawing cannot be read
    ├── ProjectError         2   project.toml cannot be used
    ├── ShopError            2   a table or the settings cannot be used
    ├── PlanError            2   no plan can be made of what was read
    └── JournalError         2   the log cannot be opened or written

Only companion.cli turns them into text and an exit code.
"""

from __future__ import annotations

EXIT_FINE = 0
EXIT_STOP_FINDING = 1
EXIT_BAD_INPUT = 2
EXIT_INTERRUPTED = 130


class KerfsideError(Exception):
    """Root of all deliberate errors.

    Args:
        title: what is wrong, one clause, without a full stop.
        cause: where and why; may be empty.
        remedy: what the user can do; a whole sentence.
    """

    exit_code = EXIT_BAD_INPUT

    def __init__(self, title: str, cause: str = "", remedy: str = "") -> None:
        super().__init__(title)
        self.title = title
        self.cause = cause
        self.remedy = remedy

    def __str__(self) -> str:
        """One line: what, where, what to do."""
        text = self.title
        if self.cause:
            text += f": {self.cause}"
        if self.remedy:
            text += f"{'' if text.endswith(('.', '?', '!')) else '.'} {self.remedy}"
        return text


class UsageError(KerfsideError):
    """The command's words are off."""


class PatternError(KerfsideError):
    """The drawing cannot be read."""


class ProjectError(KerfsideError):
    """project.toml cannot be used."""


class ShopError(KerfsideError):
    """A shop table or the settings file cannot be used."""


class PlanError(KerfsideError):
    """No plan can be made of what was read."""


class JournalError(KerfsideError):
    """The log cannot be opened, read or written."""
