"""Words of the trade, and the unit at a header's end."""

from __future__ import annotations

from pathlib import Path

import pytest

from nightwater.ground.tables import TABLES
from nightwater.survey.read import ReadOptions, read_table
from nightwater.survey.suggest import Suggestion, suggest_columns
from nightwater.survey.trade_names import TRADE_NAMES, trade_match
from nightwater.survey.unit_words import UNIT_WORDS, declared_unit, parted, plain_name
from nightwater.units import UNITS

CRS = "EPSG:32612"


@pytest.mark.parametrize("table", sorted(TRADE_NAMES))
def test_every_word_names_a_column_that_is_there(table: str) -> None:
    for ours, names in TRADE_NAMES[table].items():
        assert ours == "id" or ours in TABLES[table].by_name
        assert all(plain_name(name) == name for name in names)


@pytest.mark.parametrize("table", sorted(TRADE_NAMES))
def test_no_word_means_two_columns_of_a_table(table: str) -> None:
    words = [name for names in TRADE_NAMES[table].values() for name in names]
    assert sorted(words) == sorted(set(words))


def test_every_unit_word_is_a_unit() -> None:
    assert set(UNIT_WORDS.values()) <= set(UNITS)


@pytest.mark.parametrize(
    ("header", "base", "unit"),
    [
        ("Throw ft", "throw", "ft"),
        ("Throw (feet)", "throw", "ft"),
        ("GPM", "", "gpm"),
        ("Flow [L/s]", "flow", "L/s"),
        ("flow l/min", "flow", "L/min"),
        ("Pressure, psi", "pressure", "psi"),
        ("Elev us-ft", "elev", "us-ft"),
        ("Nozzle", "nozzle", None),
        ("", "", None),
    ],
)
def test_a_header_is_parted_from_its_unit(header: str, base: str, unit: str | None) -> None:
    assert parted(header) == (base, unit)


def test_a_unit_of_another_quantity_is_not_declared() -> None:
    radius = TABLES["nozzles"].by_name["radius_m"]
    assert declared_unit("Throw ft", radius) == "ft"
    assert declared_unit("Throw psi", radius) is None


@pytest.mark.parametrize(
    ("table", "header", "ours"),
    [
        ("nozzles", "Throw ft", ("radius_m", "ft")),
        ("nozzles", "Nozzle", ("id", None)),
        ("nozzles", "GPM", ("flow_l_s", "gpm")),
        ("nozzles", "psi", ("pressure_kpa", "psi")),
        ("heads", "GPM", ("measured_flow_l_s", "gpm")),
        ("heads", "Sprinkler", ("id", None)),
        ("heads", "Sta No.", ("station", None)),
        ("heads", "Nozzle size", ("nozzle", None)),
        ("heads", "ft", None),  # spacing, row or elevation: nobody can know
        ("stations", "Sta", ("label", None)),
        ("stations", "GPM", ("flow_listed_l_s", "gpm")),
        ("pipes", "Dia. in", ("diameter_mm", "in")),
        ("areas", "Type", ("kind", None)),
        ("nozzles", "Throw psi", None),
        ("heads", "colour", None),
    ],
)
def test_words_of_the_trade(table: str, header: str, ours: tuple[str, str | None] | None) -> None:
    assert trade_match(header, TABLES[table]) == ours


def suggested(tmp_path: Path, table: str, text: str) -> dict[str, Suggestion]:
    path = tmp_path / "list.csv"
    path.write_text(text)
    return {found.theirs: found for found in suggest_columns(path, TABLES[table])}


def test_a_nozzle_list_gets_suggestions_that_are_never_taken_unasked(tmp_path: Path) -> None:
    text = "Nozzle,Throw ft,GPM,Press\nA,65,27.5,70\nB,50,14,60\n"
    found = suggested(tmp_path, "nozzles", text)
    assert [(f.ours, f.certain, f.unit) for f in found.values()] == [
        ("id", False, None),
        ("radius_m", False, "ft"),
        ("flow_l_s", False, "gpm"),
        ("pressure_kpa", False, None),
    ]
    assert found["Press"].units == ("kPa", "bar", "psi", "m-water")
    assert {f.why for f in found.values()} == {"a word of the trade"}
    options = ReadOptions(
        columns={f.theirs: str(f.ours) for f in found.values()}, units={"Press": "psi"}
    )
    rows = read_table(tmp_path / "list.csv", TABLES["nozzles"], CRS, options).rows
    assert rows.loc["A", "radius_m"] == pytest.approx(19.812)
    assert rows.loc["B", "flow_l_s"] == pytest.approx(14 * 3.785411784 / 60)


def test_values_speak_against_a_word(tmp_path: Path) -> None:
    found = suggested(tmp_path, "heads", "id,pattern,direction\nH1,full,30\nH2,half,400\n")
    assert [found["pattern"].ours, found["direction"].ours] == [None, None]
    found = suggested(tmp_path, "heads", "id,pattern,direction\nH1,360,30\nH2,180,359\n")
    assert [found["pattern"].ours, found["direction"].ours] == ["arc_deg", "bearing_deg"]
    assert found["pattern"].units == ("deg",)
    assert not found["pattern"].certain


def test_values_of_a_fixed_set_speak_for_a_column(tmp_path: Path) -> None:
    text = "id,what,how\nA1,Green,surveyed\nA2,tee,drawing\nA3,fairway,surveyed\n"
    found = suggested(tmp_path, "areas", text)
    assert (found["what"].ours, found["what"].why) == ("kind", "its values")
    assert found["how"].ours == "evidence"


def test_what_one_column_fills_is_not_suggested_for_the_next(tmp_path: Path) -> None:
    found = suggested(tmp_path, "nozzles", "id,flow_gpm,GPM,throw,reach\nA,27,27,65,65\n")
    assert [f.ours for f in found.values()] == ["id", "flow_l_s", None, "radius_m", None]


def test_an_unknown_column_is_told_with_its_word_of_the_trade(tmp_path: Path) -> None:
    path = tmp_path / "list.csv"
    path.write_text("id,Throw ft\nA,65\n")
    finding = read_table(path, TABLES["nozzles"], CRS, ReadOptions()).findings[0]
    assert finding.code == "unknown-column"
    assert "may mean radius_m" in finding.message
    assert "--column 'Throw ft=radius_m'" in finding.fix
