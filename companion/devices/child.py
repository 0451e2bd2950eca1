"""Modules of our own in processes of their own, wherever the user stands.

``python -m`` looks for modules in the folder it is started in first: a ``queue.py`` beside
somebody's pattern would run in the place of the library's.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path

import companion


def module_command(module: str) -> list[str]:
    """The command line that runs a module of ours; to be started with :func:`environment`."""
    return [sys.executable, "-P", "-m", module]


def environment() -> dict[str, str]:
    """Ours, in which a child finds this package also where it is not installed."""
    root = str(Path(companion.__file__).resolve().parent.parent)
    paths = [p for p in os.environ.get("PYTHONPATH", "").split(os.pathsep) if p and p != root]
    return {**os.environ, "PYTHONPATH": os.pathsep.join([root, *paths])}
