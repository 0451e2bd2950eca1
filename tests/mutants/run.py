"""Draws mutants with a given seed, tries each against its guards, writes down what became of it."""

from __future__ import annotations

import json
import random
import shutil
import subprocess
import tomllib
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from tests.mutants.forked import InOrder, Reach, forked, load_libraries, use
from tests.mutants.sites import Mutant, mutants, statement

HERE = Path(__file__).parent
ROOT = HERE.parent.parent
SEED = 20
BASE_CPU_S, MUTANT_CPU_S = 900.0, 60.0


@dataclass(frozen=True, slots=True)
class Tried:
    """What became of one mutant."""

    module: str
    place: str
    line: int
    told: str
    """The line before and after."""
    end: str
    """``killed`` (failed or broken), ``slow`` (ran out of time: killed too), ``survived``,
    ``unreached`` (no guard runs the line)."""

    @property
    def key(self) -> str:
        """Names it as long as its line stays as it is."""
        return f"{self.module}:{self.place}: {self.told}"


def guards() -> dict[str, tuple[Path, list[str]]]:
    """Module name -> its file and the tests that guard it."""
    table = tomllib.loads((HERE / "guards.toml").read_text(encoding="utf-8"))
    return {
        f"{package}.{name}": (Path("companion") / package / f"{name}.py", tests)
        for package, modules in table.items()
        for name, tests in modules.items()
    }


def drawn(source: str, count: int, seed: str) -> list[Mutant]:
    """So many mutants of a module at so many different places, or all where there are fewer."""
    chance = random.Random(seed)
    places: dict[tuple[int, int], list[Mutant]] = {}
    for mutant in mutants(source):
        places.setdefault((mutant.start, mutant.end), []).append(mutant)
    chosen = [chance.choice(m) for m in places.values()]
    return chance.sample(chosen, min(count, len(chosen)))


def copy_to(root: Path) -> None:
    """The project as it stands, in a folder of its own; what git ignores stays behind."""
    shutil.rmtree(root, ignore_errors=True)
    names = subprocess.run(
        ["git", "ls-files", "-co", "--exclude-standard", "-z"],
        cwd=ROOT, check=True, capture_output=True, text=True,
    ).stdout  # fmt: skip
    for name in filter(None, names.split("\0")):
        if (ROOT / name).exists():
            (root / name).parent.mkdir(parents=True, exist_ok=True)
            shutil.copy2(ROOT / name, root / name)


def reached(
    root: Path, work: Path, module: str, file: Path, tests: Sequence[str]
) -> dict[str, Any]:
    """Lines and seconds of each guard, noted once."""
    work.mkdir(parents=True, exist_ok=True)
    notes = work / f"{module}.json"
    if not notes.exists():
        forked([*tests, str(file)], Reach(root / file), BASE_CPU_S, notes)
    found: dict[str, Any] = json.loads(notes.read_text(encoding="utf-8"))
    if found["failed"] or not found["seconds"]:
        notes.unlink()
        raise RuntimeError(f"{module}: fails without any change: {found['failed'][:3]}")
    return found


def tried(file: Path, module: str, mutant: Mutant, notes: dict[str, Any]) -> Tried:
    """Put the change in, run the guards, take it out."""
    source = file.read_text(encoding="utf-8")
    seconds: dict[str, float] = notes["seconds"]
    lines: dict[str, list[str]] = notes["lines"]
    touching = {t for tests in lines.values() for t in tests}
    at_load = str(mutant.line) in lines and not lines[str(mutant.line)]
    near = touching if at_load else set(lines.get(str(mutant.line), ()))
    if not near and not at_load:
        # what lies within a statement may be noted at its first line alone
        near = {t for k in statement(source, mutant.line) for t in lines.get(str(k), ())}
    files = {t.split("::")[0] for t in near}
    # what several tests share is made by the first of them alone
    rest = {t for t in seconds if t.split("::")[0] in files} - near
    order = [*sorted(near, key=seconds.__getitem__), *sorted(rest, key=seconds.__getitem__)]
    end = "unreached"
    if order:
        file.write_text(mutant.applied(source), encoding="utf-8")
        try:
            code = forked(sorted(files), InOrder(order), MUTANT_CPU_S)
        finally:
            file.write_text(source, encoding="utf-8")
        end = {"passed": "survived", "over": "slow", "none": "unreached"}.get(code, "killed")
    return Tried(module, mutant.place, mutant.line, mutant.told(source), end)


def run(work: Path, count: int, only: Sequence[str] = (), seed: int = SEED) -> Iterator[Tried]:
    """Try ``count`` mutants of each module, round after round; goes on where it was left."""
    root, log = work / "tree", work / "tried.jsonl"
    work.mkdir(parents=True, exist_ok=True)
    if not root.exists():
        copy_to(root)
    before = {Tried(**json.loads(row)).key for row in log.open()} if log.exists() else set()
    load_libraries()
    use(root)
    wanted = {k: v for k, v in guards().items() if not only or k in only}
    draws = {
        k: drawn(file.read_text(encoding="utf-8"), count, f"{seed} {k}")
        for k, (file, _) in wanted.items()
    }
    for turn in range(count):
        for module, (file, tests) in wanted.items():
            if turn >= len(draws[module]):
                continue
            mutant = draws[module][turn]
            source = file.read_text(encoding="utf-8")
            if Tried(module, mutant.place, 0, mutant.told(source), "").key in before:
                continue
            found = tried(file, module, mutant, reached(root, work, module, file, tests))
            with log.open("a", encoding="utf-8") as out:
                out.write(json.dumps(asdict(found), ensure_ascii=False) + "\n")
            yield found


def logged(work: Path) -> dict[str, Tried]:
    """What became of each mutant in the end, by its key."""
    rows = (work / "tried.jsonl").read_text(encoding="utf-8").splitlines()
    found = [Tried(**json.loads(row)) for row in rows]
    return {t.key: t for t in found}


def again(work: Path, only: Sequence[str] = ()) -> Iterator[Tried]:
    """Try the survivors once more against all guards as they stand now, in a new copy."""
    root = work / "again"
    copy_to(root)
    load_libraries()
    use(root)
    wanted = guards()
    for old in logged(work).values():
        if old.end not in ("survived", "unreached") or (only and old.module not in only):
            continue
        file, tests = wanted[old.module]
        source = file.read_text(encoding="utf-8")
        found = [m for m in mutants(source) if (m.place, m.told(source)) == (old.place, old.told)]
        if not found:
            continue
        notes = reached(root, work / "again_notes", old.module, file, tests)
        new = tried(file, old.module, found[0], notes)
        with (work / "tried.jsonl").open("a", encoding="utf-8") as out:
            out.write(json.dumps(asdict(new), ensure_ascii=False) + "\n")
        yield new
