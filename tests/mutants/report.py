"""What stands in the log of a run: counts by module, and the survivors nobody has explained."""

from __future__ import annotations

import tomllib
from collections import Counter
from collections.abc import Iterable
from pathlib import Path

from tests.mutants.run import HERE, ROOT, Tried, guards, logged
from tests.mutants.sites import mutants

SURVIVORS = HERE / "survivors.toml"


def explained() -> dict[str, str]:
    """Key of a survivor -> why it may live."""
    rows = tomllib.loads(SURVIVORS.read_text(encoding="utf-8"))["survivor"]
    return {row["mutant"]: row["why"] for row in rows}


def stale(keys: Iterable[str]) -> list[str]:
    """Those of the list whose line is no longer what it was: to be taken out, or tried again."""
    keys = list(keys)
    named = {key.split(":")[0] for key in keys}
    known: set[str] = set()
    for module, (file, _) in guards().items():
        if module not in named:
            continue
        source = (ROOT / file).read_text(encoding="utf-8")
        known |= {
            Tried(module, m.place, m.line, m.told(source), "survived").key for m in mutants(source)
        }
    return [key for key in keys if key not in known]


def report(work: Path) -> str:
    """Counts and open survivors as text."""
    last = logged(work)
    known = explained() if SURVIVORS.exists() else {}
    counts: dict[str, Counter[str]] = {}
    for found in last.values():
        counts.setdefault(found.module, Counter())[found.end] += 1
    ends = ("killed", "slow", "survived", "unreached")
    rows = [f"{'module':20}" + "".join(f"{e:>10}" for e in ends)]
    rows += [f"{k:20}" + "".join(f"{v[e]:>10}" for e in ends) for k, v in sorted(counts.items())]
    whole = sum(counts.values(), Counter())
    rows.append(f"{'all':20}" + "".join(f"{whole[e]:>10}" for e in ends))
    open_ones = [t for t in last.values() if t.end in ("survived", "unreached")]
    rows += [f"{t.end}: {t.key}" for t in open_ones if t.key not in known]
    rows += [f"stale entry: {key}" for key in stale(known)]
    return "\n".join(rows)
