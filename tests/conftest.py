"""What all tests stand on.

A shell that starts a run in the background has interrupts ignored, and every program the tests
start would inherit that: Ctrl-C is tested, so it is heard again.

A property is judged by what it finds and never by how long the machine took over an example.
Properties draw the same examples in every run, so that a run tells of the change and not of
luck. What the same examples never meet is searched for apart, with others each time and more of
them: ``pytest --search 20`` draws 20 times as many.
"""

import signal

import pytest
from hypothesis import HealthCheck, settings

signal.signal(signal.SIGINT, signal.default_int_handler)
settings.register_profile(
    "kerfside", derandomize=True, database=None, deadline=None,
    suppress_health_check=[HealthCheck.too_slow],
)  # fmt: skip
settings.load_profile("kerfside")


def pytest_addoption(parser: pytest.Parser) -> None:
    """Let the search be asked for."""
    parser.addoption(
        "--search", type=int, default=0, metavar="TIMES",
        help="only properties, with fresh examples, so many times as many",
    )  # fmt: skip


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """For a search keep the properties only, and let them draw afresh."""
    times = int(config.getoption("--search"))
    if not times:
        return
    kept, asked = [], set[object]()
    for item in items:
        test = getattr(item, "obj", None)
        machine = getattr(getattr(item, "cls", None), "settings", None)
        if isinstance(machine, settings) and item.name == "runTest":
            holder, name = getattr(item, "cls", None), "settings"
        elif getattr(test, "is_hypothesis_test", False):
            holder, name = getattr(test, "__func__", test), SETTINGS
        else:
            continue
        kept.append(item)
        if holder not in asked:  # one property may stand for several parameters
            asked.add(holder)
            own = getattr(holder, name, None)
            setattr(holder, name, _afresh(own if own is not None else settings(), times))
    items[:] = kept


SETTINGS = "_hypothesis_internal_use_settings"


def _afresh(own: settings, times: int) -> settings:
    return settings(
        own, derandomize=False, deadline=None, max_examples=times * own.max_examples,
        print_blob=True, suppress_health_check=list(HealthCheck),
    )  # fmt: skip
