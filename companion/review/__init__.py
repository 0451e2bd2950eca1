"""What it took against what was planned: pure functions over the journal's events."""

from __future__ import annotations
