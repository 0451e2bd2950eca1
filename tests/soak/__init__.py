"""A whole working day on a fast clock: ``python -m tests.soak [HOURS] [SEED]``.

The saw screen with a real journal on disk is worked by a random foot: taps, STOPs, mishaps,
notes, resizes, a machine that falls asleep, and lives that end by SIGKILL in mid-step. What the
process holds - memory, open files, threads, children - is noted every simulated five minutes.
"""
