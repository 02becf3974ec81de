"""From a survey to a proposal to the record: nothing is overwritten or lost silently."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import geopandas as gpd
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import MultiLineString, MultiPolygon, Point, box

from nightwater.findings import Severity
from nightwater.ground.changes import plain_rows
from nightwater.ground.record import Ground, conform, ground_from
from nightwater.ground.tables import TABLES
from nightwater.survey.propose import Proposal, propose, to_changes
from nightwater.survey.read import ReadOptions, SurveyRows, read_table

CRS = "EPSG:32612"


def heads(**rows: tuple[float, float]) -> pd.DataFrame:
    index = pd.Index(list(rows), name="id")
    places = [Point(413_000 + x, 4_340_000 + y) for x, y in rows.values()]
    return gpd.GeoDataFrame({"arc_deg": 360.0}, index=index, geometry=places, crs=CRS)


def ground(**tables: pd.DataFrame) -> Ground:
    return ground_from(CRS, tables)


def survey(rows: pd.DataFrame, *generated: str, refused: tuple[str, ...] = ()) -> SurveyRows:
    places = {str(key): f"line {number}" for number, key in enumerate(rows.index, 2)}
    made = frozenset(generated)
    return SurveyRows(rows, places, made, frozenset(refused), (), "file.csv")


def proposed(
    record: Ground, table: str, rows: SurveyRows | pd.DataFrame, *, complete: bool = False
) -> Proposal:
    told = rows if isinstance(rows, SurveyRows) else survey(rows)
    return propose(record, TABLES[table], told, complete=complete)


def after(record: Ground, proposal: Proposal, *, doubtful: bool = False) -> Ground:
    """The record with the proposal accepted, by hand."""
    table = TABLES[proposal.table]
    rows = plain_rows(record.table(table.name), table)
    for change in to_changes(proposal, include_doubtful=doubtful).rows:
        assert rows.get(change.id) == change.before
        if change.after is None:
            del rows[change.id]
        else:
            rows[change.id] = dict(change.after)
    frame = pd.DataFrame(list(rows.values()), index=pd.Index(list(rows), name="id"))
    return record.with_table(table.name, frame)


def codes(proposal: Proposal) -> list[str]:
    return [finding.code for finding in proposal.findings]


def test_new_rows_are_added(tmp_path: Path) -> None:
    proposal = proposed(ground(), "heads", heads(H1=(0, 0), H2=(20, 0)))
    assert list(proposal.added) == ["H1", "H2"]
    assert (proposal.moved, proposal.changed, proposal.removed) == ({}, {}, {})
    assert proposal.doubtful == {}
    assert after(ground(), proposal).heads.index.tolist() == ["H1", "H2"]


def test_the_same_again_changes_nothing() -> None:
    record = ground(heads=heads(H1=(0, 0)))
    proposal = proposed(record, "heads", heads(H1=(0, 0)))
    assert len(to_changes(proposal, include_doubtful=True)) == 0


def test_a_change_tells_old_and_new_column_by_column() -> None:
    record = ground(heads=heads(H1=(0, 0)).assign(label="old", condition="good"))
    rows = pd.DataFrame({"label": ["new"], "condition": ["good"]}, index=["H1"])
    proposal = proposed(record, "heads", rows)
    assert proposal.changed["H1"].columns == {"label": ("old", "new")}


def test_an_absent_column_or_an_empty_cell_erases_nothing() -> None:
    record = ground(heads=heads(H1=(0, 0)).assign(label="kept", nozzle="N1"))
    rows = pd.DataFrame({"label": [None], "station": ["S1"]}, index=["H1"])
    changed = after(record, proposed(record, "heads", rows)).heads.loc["H1"]
    assert changed[["label", "nozzle", "station", "arc_deg"]].tolist() == [
        "kept",
        "N1",
        "S1",
        360.0,
    ]
    assert changed["geometry"] == Point(413_000, 4_340_000)


def test_rows_that_are_not_named_stay_unless_the_file_is_complete() -> None:
    record = ground(heads=heads(H1=(0, 0), H2=(20, 0), H3=(40, 0)))
    rows = heads(H1=(0, 0))
    assert proposed(record, "heads", rows).removed == {}
    whole = proposed(record, "heads", rows, complete=True)
    assert list(whole.removed) == ["H2", "H3"]
    assert after(record, whole).heads.index.tolist() == ["H1"]


def test_a_row_that_could_not_be_read_is_not_removed() -> None:
    record = ground(heads=heads(H1=(0, 0), H2=(20, 0), H3=(40, 0)))
    told = survey(heads(H1=(0, 0)), refused=("H2",))
    assert list(proposed(record, "heads", told, complete=True).removed) == ["H3"]


@pytest.mark.parametrize(("moved_m", "doubtful"), [(0.4, False), (2.9, False), (3.1, True)])
def test_what_moves_far_is_doubtful(moved_m: float, doubtful: bool) -> None:
    record = ground(heads=heads(H1=(0, 0)))
    proposal = proposed(record, "heads", heads(H1=(moved_m, 0)))
    assert ("H1" in proposal.doubtful, "H1" in proposal.moved) == (doubtful, not doubtful)
    assert codes(proposal) == (["moved-far"] if doubtful else [])
    kept = after(record, proposal).heads.geometry["H1"].x - 413_000
    assert kept == pytest.approx(0.0 if doubtful else moved_m)
    assert after(record, proposal, doubtful=True).heads.geometry["H1"].x - 413_000 == (
        pytest.approx(moved_m)
    )


@pytest.mark.parametrize(
    ("known", "told", "doubtful"),
    [
        ("surveyed", "drawing", True),
        ("surveyed", "guessed", True),
        ("drawing", "guessed", True),
        ("drawing", "surveyed", False),
        ("surveyed", "surveyed", False),
        (None, "guessed", False),
        ("drawing", None, False),
        ("surveyed", None, True),
    ],
)
def test_weaker_evidence_does_not_move_a_place_unseen(
    known: str | None, told: str | None, doubtful: bool
) -> None:
    record = ground(heads=heads(H1=(0, 0)).assign(evidence=known))
    proposal = proposed(record, "heads", heads(H1=(1, 0)).assign(evidence=told))
    assert ("H1" in proposal.doubtful) is doubtful
    assert codes(proposal) == (["weaker-evidence"] if doubtful else [])


def test_a_list_without_evidence_may_fill_columns_of_a_surveyed_head() -> None:
    record = ground(heads=heads(H1=(0, 0)).assign(evidence="surveyed"))
    rows = pd.DataFrame({"nozzle": ["N2"]}, index=["H1"])
    assert list(proposed(record, "heads", rows).changed) == ["H1"]


def test_a_new_id_where_the_record_has_another_is_doubtful() -> None:
    record = ground(heads=heads(H1=(0, 0)))
    proposal = proposed(record, "heads", heads(X1=(0.3, 0), X2=(5, 0)))
    assert list(proposal.doubtful) == ["X1"]
    assert list(proposal.added) == ["X2"]
    finding = proposal.findings[0]
    assert (finding.code, finding.subject) == ("same-place", "heads:H1")
    assert "X1" in finding.message


def test_two_new_rows_in_one_place_keep_the_first() -> None:
    proposal = proposed(ground(), "heads", heads(X1=(0, 0), X2=(0.2, 0), X3=(9, 0)))
    assert (list(proposal.added), list(proposal.doubtful)) == (["X1", "X3"], ["X2"])


def test_a_file_in_the_wrong_system_is_noticed() -> None:
    record = ground(heads=heads(H1=(0, 0)))
    proposal = proposed(record, "heads", heads(X1=(60, 0), X2=(900_000, 0)))
    assert (list(proposal.added), list(proposal.doubtful)) == (["X1"], ["X2"])
    assert codes(proposal) == ["far-from-course"]
    assert "900 km" in proposal.findings[0].message


def test_new_rows_that_cannot_stand_are_named_and_hold_up_nobody() -> None:
    rows = conform(heads(H1=(0, 0)), TABLES["heads"], CRS)[["arc_deg", "geometry"]]
    nowhere = pd.DataFrame({"arc_deg": [90.0]}, index=["H9"])
    proposal = proposed(ground(), "heads", pd.concat([pd.DataFrame(rows), nowhere]))
    assert list(proposal.added) == ["H1"]
    finding = proposal.findings[0]
    assert (finding.code, finding.severity) == ("new-row-incomplete", Severity.ERROR)
    assert "line 3 (H9)" in finding.message
    assert "no geometry" in finding.message
    pipes = pd.DataFrame({"material": ["PVC"]}, index=["P1"])
    assert "diameter_mm is missing" in proposed(ground(), "pipes", pipes).findings[0].message


def test_columns_that_a_new_row_needs_are_not_asked_of_a_known_one() -> None:
    line = MultiLineString([[(413_000, 4_340_000), (413_050, 4_340_000)]])
    known = gpd.GeoDataFrame({"diameter_mm": [54.0]}, index=["P1"], geometry=[line], crs=CRS)
    rows = pd.DataFrame({"material": ["PVC"]}, index=["P1"])
    proposal = proposed(ground(pipes=known), "pipes", rows)
    assert proposal.changed["P1"].columns == {"material": (None, "PVC")}


def test_a_made_up_id_never_lands_on_a_stranger() -> None:
    """Two files without ids: the second must not overwrite the first."""
    record = ground(heads=heads(**{"head-0001": (0, 0), "head-0002": (20, 0)}))
    rows = heads(**{"head-0001": (100, 0), "head-0002": (120, 0)})
    proposal = proposed(record, "heads", survey(rows, "head-0001", "head-0002"))
    assert (proposal.moved, proposal.changed, proposal.doubtful) == ({}, {}, {})
    assert list(proposal.added) == ["head-0003", "head-0004"]
    assert len(after(record, proposal).heads) == 4


def test_a_file_without_ids_finds_its_rows_again_by_place() -> None:
    record = ground(heads=heads(**{"head-0001": (0, 0), "H7": (20, 0)}))
    rows = heads(**{"head-0001": (20.1, 0), "head-0002": (0.1, 0), "head-0003": (60, 0)})
    rows = rows.assign(arc_deg=180.0)
    proposal = proposed(record, "heads", survey(rows, *rows.index))
    assert sorted(proposal.moved) == ["H7", "head-0001"]
    assert list(proposal.added) == ["head-0003"]
    again = after(record, proposal).heads
    assert again["arc_deg"].tolist() == [180.0] * 3
    assert again.geometry["H7"].x == pytest.approx(413_020.1)


def test_outlines_without_ids_are_found_again_by_their_ground() -> None:
    def areas(**boxes: tuple[float, float, float, float]) -> pd.DataFrame:
        shapes = [MultiPolygon([box(*corners)]) for corners in boxes.values()]
        return gpd.GeoDataFrame(
            {"kind": "green"}, index=pd.Index(list(boxes), name="id"), geometry=shapes, crs=CRS
        )

    record = ground(areas=areas(A1=(0, 0, 30, 20), A2=(100, 0, 130, 20)))
    rows = areas(**{"area-0001": (100, 0, 130.1, 20), "area-0002": (0, 0, 30, 40)})
    proposal = proposed(record, "areas", survey(rows, *rows.index))
    assert list(proposal.moved) == ["A2"]
    assert list(proposal.doubtful) == ["A1"]  # twice as large: a person looks
    assert "outline-differs" in codes(proposal)


def test_plain_tables_without_ids_are_found_again_by_label() -> None:
    known = pd.DataFrame(
        {"label": ["Path 1", "Path 2"], "max_heads_on": [12, 12]}, index=["C1", "C2"]
    )
    rows = pd.DataFrame(
        {"label": ["Path 2", "Path 3"], "max_heads_on": [20, 9]},
        index=["controller-0001", "controller-0002"],
    )
    proposal = proposed(ground(controllers=known), "controllers", survey(rows, *rows.index))
    assert proposal.changed["C2"].columns == {"max_heads_on": (12, 20)}
    assert list(proposal.added) == ["controller-0002"]


texts = st.one_of(st.none(), st.text(min_size=1, max_size=6))
arcs = st.one_of(st.none(), st.floats(10, 360))
tables = st.dictionaries(
    st.sampled_from(["H1", "H2", "H3", "H4"]),
    st.tuples(texts, arcs, st.integers(0, 30), st.booleans()),
    max_size=4,
)


def built(rows: dict[str, tuple[str | None, float | None, int, bool]]) -> pd.DataFrame:
    index = pd.Index(list(rows), name="id", dtype=object)
    data = {
        "label": [row[0] for row in rows.values()],
        "arc_deg": [row[1] for row in rows.values()],
        "evidence": ["surveyed" if row[3] else "guessed" for row in rows.values()],
    }
    places = [Point(413_000 + row[2], 4_340_000) for row in rows.values()]
    return gpd.GeoDataFrame(pd.DataFrame(data, index=index, dtype=object), geometry=places, crs=CRS)


@settings(deadline=None)
@given(known=tables, told=tables, complete=st.booleans())
def test_accepting_all_makes_the_record_say_what_the_file_says(
    known: dict,
    told: dict,
    complete: bool,  # type: ignore[type-arg]
) -> None:
    record = ground(heads=conform(built(known), TABLES["heads"], CRS))
    proposal = proposed(record, "heads", survey(built(told)), complete=complete)
    parts = [
        *proposal.added,
        *proposal.moved,
        *proposal.changed,
        *proposal.removed,
        *proposal.doubtful,
    ]
    assert len(parts) == len(set(parts))
    final = after(record, proposal, doubtful=True).heads
    assert set(final.index) == (set(told) if complete else {*known, *told})
    for key, (label, arc, x, _) in told.items():
        old = known.get(key, (None, None, 0, False))
        assert final.loc[key, "label"] == (label if label is not None else old[0])
        expected = arc if arc is not None else old[1]
        assert pd.isna(final.loc[key, "arc_deg"]) or final.loc[key, "arc_deg"] == pytest.approx(
            expected
        )
        assert final.geometry[key].x == 413_000 + x
    again = proposed(ground(heads=final), "heads", survey(built(told)), complete=complete)
    assert len(to_changes(again, include_doubtful=True)) == 0


def test_a_read_proposal_goes_into_the_file_and_back(
    tmp_path: Path, write_course: Callable[[], Path]
) -> None:
    from datetime import UTC, datetime

    from nightwater.store.course_file import CourseFile

    text = "id,lon,lat,arc_deg,spacing_ft\nH1,-112,39.2,360,65\nH2,-112.001,39.2,bad,65\n"
    (tmp_path / "heads.csv").write_text(text)
    with CourseFile.open(write_course()) as file:
        told = read_table(tmp_path / "heads.csv", TABLES["heads"], CRS, ReadOptions())
        changes = to_changes(propose(file.ground(), TABLES["heads"], told), include_doubtful=False)
        file.accept(changes, "Pilar", "survey", datetime(2026, 7, 14, tzinfo=UTC))
        assert file.ground().heads["spacing_m"].to_dict() == {"H1": pytest.approx(19.812)}
        again = propose(file.ground(), TABLES["heads"], told)
        assert len(to_changes(again, include_doubtful=True)) == 0
