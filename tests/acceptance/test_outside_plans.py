"""Twenty drawings that we did not draw, from file to plan, against a renderer's own count.

The renderer (resvg) paints the file; connected components of its ink are the
pieces, enclosed components of its paper the openings. Holes are looked up in
that picture too, so neither side shares code with the planner.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import ndimage

from companion.cli.main import main
from companion.pattern.limits import limits
from tests.pattern.measure import above, areas_of, as_text, ink_of, paint

OUTSIDE = Path(__file__).parents[1] / "data" / "outside"
DRAWINGS = [
    *(f"words/{n}" for n in (
        "cabin-bakery", "cabin-willow-oak", "caladea-harbour", "comfortaa-8-plumb-lane",
        "caladea-bakery", "comfortaa-bakery", "cabin-harbour",
    )),
    *(f"clipart/{n}" for n in (
        "armadillo_architetto_fra_01", "bus_symbol_black_01", "candy_31",
        "flourish_one_horizontal_01", "pizza_cheese_bw", "telephone_lutte_incendi_01",
        "aiga_coat_check_",
    )),
    *(f"maki/{n}" for n in (
        "aquarium", "castle-JP", "globe", "monument", "restaurant-sushi", "volleyball",
    )),
]  # fmt: skip
WIDTH_MM = 180.0
PX_PER_MM = 9.0
Mask = NDArray[np.bool_]


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("home")


def painted(path: Path) -> Mask:
    """The renderer's ink, cropped to its box, about PX_PER_MM pixels a millimetre."""
    text = as_text(path.read_bytes())
    across = np.flatnonzero(ink_of(paint(text)).any(axis=0))
    mask = ink_of(paint(text, WIDTH_MM * PX_PER_MM / (across[-1] - across[0] + 1)))
    rows, columns = np.flatnonzero(mask.any(axis=1)), np.flatnonzero(mask.any(axis=0))
    return mask[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]


def counted(mask: Mask) -> tuple[int, int]:
    """Pieces and openings above the speck threshold."""
    speck_px = limits().speck_mm2 * (mask.shape[1] / WIDTH_MM) ** 2
    return above(areas_of(mask), (speck_px, speck_px))


def plan_of(name: str, home: Path, capsys: pytest.CaptureFixture[str]) -> dict[str, Any]:
    path = OUTSIDE / f"{name}.svg"
    code = main(["plan", str(path), "--width", f"{WIDTH_MM}mm", "--json"])
    said = capsys.readouterr()
    assert code in (0, 1), said.err
    plan: dict[str, Any] = json.loads(said.out)
    assert code == int(any(f["severity"] == "stop" for f in plan["findings"]))
    return plan


@pytest.mark.parametrize("name", DRAWINGS)
def test_from_file_to_plan(
    name: str, home: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("KERFSIDE_HOME", str(home))
    plan = plan_of(name, home, capsys)
    mask = painted(OUTSIDE / f"{name}.svg")
    assert (plan["pieces"], plan["openings"]) == counted(mask)
    check_order(plan)
    check_holes(plan, mask)


def check_order(plan: dict[str, Any]) -> None:
    cuts = plan["cuts"]
    assert [c["number"] for c in cuts] == list(range(1, len(cuts) + 1))
    inside = [c for c in cuts if c["side"] == "inside" and c["opening"] is not None]
    outside = [c for c in cuts if c["side"] == "outside"]
    assert len({c["opening"] for c in inside}) == len(inside) == plan["openings"]
    assert len({c["piece"] for c in outside}) == len(outside) == plan["pieces"]
    freed = {c["piece"]: c["number"] for c in outside}
    assert all(c["number"] < freed[c["piece"]] for c in inside)


def check_holes(plan: dict[str, Any], mask: Mask) -> None:
    """Every hole with its full radius on the renderer's paper, within half a pixel."""
    ends = np.array([p for c in plan["cuts"] for p in c["line_mm"]])
    left, top = ends.min(axis=0)
    scale = mask.shape[1] / (ends.max(axis=0)[0] - left)
    # from each pixel of paper the way to the nearest ink; beyond the box all is paper
    room = ndimage.distance_transform_edt(np.pad(~mask, 400, constant_values=True))
    assert len({h["cut"] for h in plan["holes"]}) == len(plan["holes"]) == len(plan["cuts"])
    for hole in plan["holes"]:
        x = int(round((hole["at_mm"][0] - left) * scale)) + 400
        y = int(round((hole["at_mm"][1] - top) * scale)) + 400
        y, x = min(max(y, 0), room.shape[0] - 1), min(max(x, 0), room.shape[1] - 1)
        assert room[y, x] >= hole["drill_mm"] / 2 * scale - 1.5, hole


def test_the_count_can_fail(tmp_path: Path) -> None:
    ring = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9"><path fill-rule="evenodd" '
    ring += 'd="M0,0H9V9H0ZM3,3H6V6H3Z"/></svg>'
    path = tmp_path / "ring.svg"
    path.write_text(ring)
    mask = painted(path)
    assert counted(mask) == (1, 1)
    mask[mask.shape[0] // 2, :] = False
    assert counted(mask) == (2, 0)
