"""Where settings, the journal, kept plans and the shipped files are on this computer.

The environment variable KERFSIDE_HOME moves all that is written into one folder.
Sounds and demo projects stand at the top of a checkout, and inside the package
after an ordinary install.
"""

from __future__ import annotations

import os
from pathlib import Path

from companion.errors import ShopError
from companion.sentence import sentence

APP = "kerfside"
HOME_VARIABLE = "KERFSIDE_HOME"
_PACKAGE = Path(__file__).resolve().parent.parent


def config_folder() -> Path:
    """Where settings live; need not exist."""
    return _folder("config")


def data_folder() -> Path:
    """Where the log and what belongs to it live; need not exist."""
    return _folder("data")


def settings_file() -> Path:
    """The user's settings.toml; need not exist."""
    return config_folder() / "settings.toml"


def journal_file() -> Path:
    """The log; need not exist."""
    return data_folder() / "journal.sqlite3"


def cache_folder() -> Path:
    """Where plans are kept; may be deleted at any time."""
    return _folder("cache") / "plans"


def shipped(name: str) -> Path:
    """A folder that comes with the program: ``sounds`` or ``demo_projects``.

    Raises:
        ShopError: it is not there.
    """
    for place in (_PACKAGE / "_shipped" / name, _PACKAGE.parent / name):
        if place.is_dir():
            return place
    raise ShopError(
        sentence("the folder {name} is missing", name=name), "", "Install Kerfside again."
    )


def _folder(kind: str) -> Path:
    home = os.environ.get(HOME_VARIABLE)
    if home:
        try:
            return Path(home).expanduser()
        except RuntimeError as error:
            raise ShopError(
                sentence("{name} names a home that is not there", name=HOME_VARIABLE),
                home,
                sentence("Set it to a folder, or unset it."),
            ) from error
    # imported late: a set home needs none of it
    import platformdirs

    find = {
        "config": platformdirs.user_config_path,
        "data": platformdirs.user_data_path,
        "cache": platformdirs.user_cache_path,
    }
    return find[kind](APP, appauthor=False)


def resolve_project(named: Path) -> Path:
    """What the sawyer named: a path, or else a demo project by its name.

    >>> resolve_project(Path("harbour_sign")).name
    'harbour_sign'
    """
    if named.exists() or len(named.parts) != 1 or named.suffix:
        return named
    demo = shipped("demo_projects") / named.name.replace("-", "_")
    return demo if (demo / "project.toml").is_file() else named
