"""Modules of our own in processes of their own, wherever the user stands.

``python -m`` looks for modules in the folder it is started in first: a ``queue.py`` beside
somebody's pattern would run in the place of the library's. So it would beside an installed
package, if the folder of those stood in PYTHONPATH, before the library.
"""

from __future__ import annotations

import os
import site
import sys
from pathlib import Path

import companion


def module_command(module: str) -> list[str]:
    """The command line that runs a module of ours; to be started with :func:`environment`."""
    return [sys.executable, "-P", "-m", module]


def environment() -> dict[str, str]:
    """Ours, in which a child finds this package also where it is not installed."""
    root = Path(companion.__file__).resolve().parent.parent
    if root in {Path(p).resolve() for p in (*site.getsitepackages(), site.getusersitepackages())}:
        return dict(os.environ)
    paths = os.environ.get("PYTHONPATH", "").split(os.pathsep)
    others = [p for p in paths if p and p != str(root)]
    return {**os.environ, "PYTHONPATH": os.pathsep.join([str(root), *others])}
