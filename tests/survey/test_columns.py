"""Their header, our column: every declared spelling of every column, and nothing by guess."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nightwater.findings import UserError
from nightwater.ground.columns import Column, Kind, Table
from nightwater.ground.tables import GROUND_TABLES, TABLES
from nightwater.survey.cells import cell_value
from nightwater.survey.columns import (
    INSIDE_SUFFIX,
    column_named,
    fitting_units,
    match_columns,
    plain_name,
)
from nightwater.units import UNITS, from_si, to_si

SURVEYED = [TABLES[name] for name in GROUND_TABLES]


def measured() -> Iterator[tuple[Table, Column, str]]:
    """Every column with a quantity, with every unit that fits it."""
    for table in SURVEYED:
        for column in table.columns:
            for symbol in fitting_units(column):
                yield table, column, symbol


EVERY = list(measured())


def base(column: Column) -> str:
    return column.name.removesuffix("_" + INSIDE_SUFFIX[column.quantity or ""])


def test_every_quantity_of_the_record_has_its_suffix_and_units() -> None:
    assert len(EVERY) > 100
    for table in SURVEYED:
        for column in table.columns:
            if column.quantity is not None:
                assert column.name.endswith("_" + INSIDE_SUFFIX[column.quantity])
                assert fitting_units(column)


@pytest.mark.parametrize("form", ["{base}_{unit}", "{base} ({unit})", "{BASE} [{unit}]"])
def test_every_declared_spelling_finds_its_own_column(form: str) -> None:
    for table, column, symbol in EVERY:
        header = form.format(base=base(column), BASE=base(column).upper(), unit=symbol)
        found = column_named(header, table)
        assert found is not None, header
        assert found[0].name == column.name, header
        assert found[1] in (symbol, None), header
        # None stands for our own unit, whose factor is one.
        assert found[1] == symbol or to_si(1.0, symbol) == 1.0, header


def test_a_bare_name_of_a_measured_column_never_passes_as_declared() -> None:
    for table, column, _symbol in EVERY:
        if base(column) in table.by_name:
            continue
        found = column_named(base(column), table)
        assert found == (column, "")


@given(st.sampled_from(EVERY), st.floats(0, 1))
def test_a_value_in_any_unit_comes_back_in_ours(
    spelling: tuple[Table, Column, str], share: float
) -> None:
    _table, column, symbol = spelling
    assert column.lowest is not None
    assert column.highest is not None
    inside = column.lowest + share * (column.highest - column.lowest)
    written = repr(float(from_si(inside, symbol)))
    value = cell_value(written, column, symbol, decimal_comma=False)
    assert value == pytest.approx(inside, rel=1e-9, abs=1e-9)


def test_the_bound_itself_is_inside_in_any_unit() -> None:
    for _table, column, symbol in EVERY:
        for bound in (column.lowest, column.highest):
            assert bound is not None
            written = repr(float(from_si(bound, symbol)))
            value = cell_value(written, column, symbol, decimal_comma=False)
            assert value == pytest.approx(bound, rel=1e-9, abs=1e-9)


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("Flow [L/s]", "flow_l_s"),
        ("  Radius  (ft) ", "radius_ft"),
        ("Precipitation-Rate", "precipitation_rate"),
        ("ÄÖ", ""),
        ("a__b", "a_b"),
    ],
)
def test_plain_names(name: str, expected: str) -> None:
    assert plain_name(name) == expected


def test_a_unit_of_another_quantity_in_the_header_matches_nothing() -> None:
    assert column_named("radius_psi", TABLES["nozzles"]) is None
    assert column_named("radius_in", TABLES["nozzles"]) is None


def test_units_of_other_quantities_never_fit() -> None:
    column = TABLES["nozzles"].by_name["radius_m"]
    for symbol, unit in UNITS.items():
        wish = {"r": symbol}
        if unit.quantity == "length":
            found = match_columns(
                ["r"], TABLES["nozzles"], columns={"r": "radius_m"}, units=wish, name="f"
            )
            assert found.matches[0].unit == symbol
        else:
            with pytest.raises(UserError, match=f"fills {column.name}"):
                match_columns(
                    ["r"], TABLES["nozzles"], columns={"r": "radius_m"}, units=wish, name="f"
                )


def test_a_plain_number_takes_no_unit() -> None:
    with pytest.raises(UserError, match="Units that fit: none"):
        match_columns(["du_lq"], TABLES["areas"], columns={}, units={"du_lq": "pct"}, name="f")


def test_all_that_is_told_of_a_header_at_once() -> None:
    matching = match_columns(
        ["id", "Label", "pressure", "Farbe", "lon"],
        TABLES["heads"],
        columns={},
        units={},
        name="heads.csv",
        ignored={"lon"},
    )
    assert [match.theirs for match in matching.matches] == ["Label"]
    assert [finding.code for finding in matching.findings] == [
        "unit-not-declared",
        "unknown-column",
    ]
    assert all("heads.csv" in finding.message for finding in matching.findings)


@given(st.text(max_size=30))
def test_any_header_is_matched_or_named(header: str) -> None:
    matching = match_columns([header], TABLES["heads"], columns={}, units={}, name="f")
    if header.lower() in ("id", "@id", "osm_id", "fid_1", "identifier"):
        assert matching.matches == ()
    else:
        assert len(matching.matches) + len(matching.findings) == 1
        for match in matching.matches:
            column = TABLES["heads"].by_name[match.ours]
            assert column.kind is not Kind.NUMBER or plain_name(header) != base_or_name(column)


def base_or_name(column: Column) -> str:
    """What a header may not be for a measured column: its name without a unit."""
    return base(column) if column.quantity else ""
