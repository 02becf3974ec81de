"""What was said of a file's columns, completed by what is kept."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nightwater.ground.tables import TABLES
from nightwater.survey.read import ReadOptions, read_table
from nightwater.survey.remembered import Said, recalled, remembered_note, source_key

NOZZLES = TABLES["nozzles"]
CRS = "EPSG:32612"
TEXT = "id,Throw,Flow,psi\nN1,65,27.5,70\n"
KEPT = Said(
    source_key(["id", "Throw", "Flow", "psi"]),
    {"Throw": "radius_m", "psi": "pressure_kpa"},
    {"Throw": "ft", "psi": "psi", "Flow": "gpm"},
)


@given(names=st.lists(st.text(min_size=1), min_size=1), seed=st.randoms())
def test_a_header_is_known_in_any_order(names: list[str], seed) -> None:  # type: ignore[no-untyped-def]
    other = list(names)
    seed.shuffle(other)
    assert source_key(names) == source_key(other)
    assert source_key(names) != source_key([*names, "one more"])


def test_two_names_are_not_one() -> None:
    assert source_key(["ab", "c"]) != source_key(["a", "bc"])


def test_nothing_kept_leaves_what_is_said() -> None:
    said = Said("x", {"a": "label"})
    assert recalled(said, None, NOZZLES) is said
    assert bool(said)
    assert not Said("x")


def test_what_is_said_now_comes_first() -> None:
    said = Said(KEPT.source, {"Flow": "radius_m"}, {"Flow": "m"}, {"pressure_kpa": "500"})
    used = recalled(said, KEPT, NOZZLES)
    assert used == Said(KEPT.source, {"Flow": "radius_m"}, {"Flow": "m"}, {"pressure_kpa": "500"})


def test_what_is_said_of_one_column_keeps_the_others() -> None:
    used = recalled(Said(KEPT.source, {}, {"Throw": "m"}), KEPT, NOZZLES)
    assert used.columns == KEPT.columns
    assert used.units == {"Throw": "m", "psi": "psi", "Flow": "gpm"}


def test_a_column_that_the_table_no_longer_has_is_dropped() -> None:
    kept = Said("x", {"a": "gone_long_ago", "b": "label"}, {}, {"colour": "red"})
    assert recalled(Said("x"), kept, NOZZLES) == Said("x", {"b": "label"})


@pytest.fixture
def path(tmp_path: Path) -> Path:
    (tmp_path / "sizes.csv").write_text(TEXT)
    return tmp_path / "sizes.csv"


def test_a_file_with_the_same_header_is_read_as_before(path: Path) -> None:
    survey = read_table(path, NOZZLES, CRS, ReadOptions(), {KEPT.source: KEPT})
    assert survey.said == KEPT
    assert survey.rows.loc["N1", "radius_m"] == pytest.approx(19.812)
    assert survey.rows.loc["N1", "pressure_kpa"] == pytest.approx(482.63, abs=0.01)
    note = survey.findings[0]
    assert note.code == "columns-remembered"
    for words in ("'Throw' = radius_m", "'psi' in psi", "'Flow' in gpm"):
        assert words in note.message


def test_another_header_knows_nothing_of_it(path: Path) -> None:
    path.write_text(TEXT.replace("Throw", "Reach"))
    survey = read_table(path, NOZZLES, CRS, ReadOptions(), {KEPT.source: KEPT})
    assert "columns-remembered" not in [finding.code for finding in survey.findings]
    assert survey.said == Said(source_key(["id", "Reach", "Flow", "psi"]))


def test_what_is_said_again_is_no_news() -> None:
    assert remembered_note(KEPT, KEPT, "f.csv") == ()
    fixed = Said("x", {}, {}, {"kind": "green"})
    assert "kind = green in every row" in remembered_note(Said("x"), fixed, "f.csv")[0].message
