"""What all tests stand on.

A shell that starts a run in the background has interrupts ignored, and every program the tests
start would inherit that: Ctrl-C is tested, so it is heard again.

A property is judged by what it finds and never by how long the machine took over an example or
over drawing one; a failure prints what draws the same example again.
"""

import signal

from hypothesis import HealthCheck, settings

signal.signal(signal.SIGINT, signal.default_int_handler)

settings.register_profile(
    "kerfside", deadline=None, print_blob=True, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("kerfside")
