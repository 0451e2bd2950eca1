"""A disk that is really full, and a file that may not grow: nothing confirmed is lost."""

from __future__ import annotations

import os
import signal
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from companion.errors import JournalError
from companion.journal.store import Journal
from tests.journal.test_store import entry

SIZE_KIB = 1024
BALLAST_KIB = 300
pytestmark = pytest.mark.skipif(os.name == "nt", reason="mounts and limits of POSIX")


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A disk of a mebibyte, where such a one may be mounted."""
    place = tmp_path / "disk"
    place.mkdir()
    command = ["mount", "-t", "tmpfs", "-o", f"size={SIZE_KIB}k", "tmpfs", str(place)]
    try:
        done = subprocess.run(command, capture_output=True, check=False).returncode
    except OSError:
        done = 1
    if done:
        pytest.skip("nothing may be mounted here")
    try:
        yield place
    finally:
        subprocess.run(["umount", str(place)], check=True)


def test_a_full_disk(small_disk: Path) -> None:
    ballast = small_disk / "ballast"
    ballast.write_bytes(b"x" * BALLAST_KIB * 1024)
    path = small_disk / "j.sqlite3"
    with Journal(path) as journal:
        confirmed = 0
        with pytest.raises(JournalError) as told:
            while confirmed < 50_000:
                journal.append([entry(confirmed)])
                confirmed += 1
        assert "Free some space" in told.value.remedy
        assert confirmed > 10
        assert journal.count() == confirmed
    # whoever opens it next finds all of it, on the full disk as it is
    with Journal(path) as journal:
        assert journal.count() == confirmed and journal.check() == []
        # still no room: told again, and nothing half written
        with pytest.raises(JournalError):
            for n in range(50_000):
                journal.append([entry(n)])
                confirmed += 1
        assert journal.count() == confirmed and journal.check() == []
        ballast.unlink()
        journal.append([entry(1)])
        assert journal.count() == confirmed + 1 and journal.check() == []


def test_a_file_that_may_not_grow(tmp_path: Path) -> None:
    """Another refusal of the system (EFBIG); needs no rights to mount."""
    import resource

    path = tmp_path / "j.sqlite3"
    was = resource.getrlimit(resource.RLIMIT_FSIZE)
    ignored = signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    confirmed = 0
    try:
        with Journal(path) as journal:
            resource.setrlimit(resource.RLIMIT_FSIZE, (400 * 1024, was[1]))
            with pytest.raises(JournalError):
                while confirmed < 50_000:
                    journal.append([entry(confirmed)])
                    confirmed += 1
            assert journal.count() == confirmed > 10
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, was)
        signal.signal(signal.SIGXFSZ, ignored)
    with Journal(path) as journal:
        assert journal.count() == confirmed and journal.check() == []
        journal.append([entry(0)])
        assert journal.count() == confirmed + 1
