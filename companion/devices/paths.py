"""Where settings, the journal and kept plans live on this computer.

The environment variable KERFSIDE_HOME moves all of them into one folder.
"""

from __future__ import annotations

import os
from pathlib import Path

APP = "kerfside"


def settings_file() -> Path:
    """The user's settings.toml; need not exist."""
    return _folder("config") / "settings.toml"


def journal_file() -> Path:
    """The log; need not exist."""
    return _folder("data") / "journal.sqlite3"


def cache_folder() -> Path:
    """Where plans are kept; may be deleted at any time."""
    return _folder("cache") / "plans"


def _folder(kind: str) -> Path:
    home = os.environ.get("KERFSIDE_HOME")
    if home:
        return Path(home).expanduser()
    # imported late: a set home needs none of it
    import platformdirs

    find = {
        "config": platformdirs.user_config_path,
        "data": platformdirs.user_data_path,
        "cache": platformdirs.user_cache_path,
    }
    return find[kind](APP, appauthor=False)
