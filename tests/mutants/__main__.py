"""``python -m tests.mutants run DIR [--count N] [--seed N] [MODULE ..]``, ``again``, ``report``."""

from __future__ import annotations

import argparse
from pathlib import Path

from tests.mutants.report import report
from tests.mutants.run import SEED, again, run


def main() -> None:
    """Read the command line."""
    parser = argparse.ArgumentParser(prog="python -m tests.mutants")
    parser.add_argument("verb", choices=("run", "again", "report"))
    parser.add_argument("work", type=Path)
    parser.add_argument("modules", nargs="*")
    parser.add_argument("--count", type=int, default=30)
    parser.add_argument("--seed", type=int, default=SEED, help="another one, another draw")
    args = parser.parse_intermixed_args()
    work = args.work.resolve()
    if args.verb != "report":
        tries = (
            again(work, args.modules)
            if args.verb == "again"
            else run(work, args.count, args.modules, args.seed)
        )
        for found in tries:
            print(f"{found.end:9} {found.module}:{found.line} {found.told}", flush=True)
    else:
        print(report(work))


if __name__ == "__main__":
    main()
