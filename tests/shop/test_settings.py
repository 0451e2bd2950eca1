"""The settings file: what is read is what was written, and slips are told."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from companion.errors import ShopError
from companion.shop import tables
from companion.shop.settings import default_settings, load_settings, save_settings


def test_no_file_gives_the_defaults(tmp_path: Path) -> None:
    assert load_settings(None) == default_settings()
    assert load_settings(tmp_path / "nothing.toml") == default_settings()
    # commonly 16 to 20 in (university shop page)
    assert default_settings().saw.throat_mm == pytest.approx(16 * 25.4)


def test_what_is_saved_is_read_back(tmp_path: Path) -> None:
    path = tmp_path / "deep" / "settings.toml"
    mine = replace(
        default_settings(), skill="terse", inch=True, language="de", speech_rate_wpm=120,
        drills=(tables.drill("#60"), tables.drill("1/16 in")), pedal_key='quote"back\\slash',
    )  # fmt: skip
    mine = replace(mine, saw=replace(mine.saw, throat_mm=508.0, dial_of=1750.0))
    save_settings(mine, path)
    assert load_settings(path) == mine
    assert [p.name for p in path.parent.iterdir()] == ["settings.toml"]


def test_a_part_of_a_file_keeps_the_other_defaults(tmp_path: Path) -> None:
    path = tmp_path / "settings.toml"
    path.write_text('[sawyer]\nskill = "practised"\n', encoding="utf-8")
    assert load_settings(path) == replace(default_settings(), skill="practised")


def test_drills_come_thin_to_thick(tmp_path: Path) -> None:
    path = tmp_path / "settings.toml"
    path.write_text('[drills]\nset = ["1/16 in", "1.0 mm", "#60", "1.0 mm"]\n', encoding="utf-8")
    assert [d.name for d in load_settings(path).drills] == ["1.0 mm", "#60", "1/16 in"]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("[saw]\nthroat_mm = 5\n", "saw.throat_mm 5 is out of range, 50 to 2000"),
        ("[saw]\nthroat_mm = nan\n", "out of range"),
        ('[saw]\nthroat_mm = "deep"\n', "saw.throat_mm must be a number"),
        ("[saw]\nthroat_mm = true\n", "saw.throat_mm must be a number"),
        ("[saw]\nthroatmm = 400\n", "saw.throatmm is not a setting"),
        ('[sawyer]\nskill = "wizard"\n', "must be one of beginner, practised, terse"),
        ("[sawyer]\nfinger_distance_mm = 1\n", "out of range"),
        ("[voice]\nspeech = 1\n", "must be true or false"),
        ('[drills]\nset = "1.0 mm"\n', "must be a list"),
        ("[drills]\nset = []\n", "must be a list"),
        ('[drills]\nset = ["thick"]\n', "unknown drill 'thick'"),
        ("saw = 5\n", "must be a section"),
        ("[saw\n", "cannot be read"),
    ],
)
def test_a_slip_names_file_key_and_remedy(tmp_path: Path, text: str, says: str) -> None:
    path = tmp_path / "settings.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(ShopError) as error:
        load_settings(path)
    assert says in str(error.value)
    assert "settings.toml" in str(error.value)
    assert error.value.remedy


def test_nothing_out_of_range_is_ever_written(tmp_path: Path) -> None:
    path = tmp_path / "settings.toml"
    with pytest.raises(ShopError):
        save_settings(replace(default_settings(), distance_mm=1.0), path)
    assert not path.exists()


def test_a_folder_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("", encoding="utf-8")
    with pytest.raises(ShopError, match="cannot be written"):
        save_settings(default_settings(), tmp_path / "file" / "settings.toml")


@given(st.floats(50, 2000), st.integers(80, 260), st.booleans())
def test_any_allowed_value_survives(throat: float, rate: int, speech: bool) -> None:
    import tempfile

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "settings.toml"
        mine = replace(default_settings(), speech_rate_wpm=rate, speech=speech)
        mine = replace(mine, saw=replace(mine.saw, throat_mm=throat))
        save_settings(mine, path)
        assert load_settings(path) == mine
