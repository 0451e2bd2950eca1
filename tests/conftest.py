"""What all tests stand on.

A shell that starts a run in the background has interrupts ignored, and every program the tests
start would inherit that: Ctrl-C is tested, so it is heard again.
"""

import signal

signal.signal(signal.SIGINT, signal.default_int_handler)
