"""A second survey of the same things: found again, moved, gone, new, never twice."""

from __future__ import annotations

from dataclasses import replace

import geopandas as gpd
import numpy as np
import pandas as pd
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import MultiLineString, MultiPolygon, Point, box

from nightwater.findings import Finding
from nightwater.ground.changes import plain_rows
from nightwater.ground.record import Ground, conform, ground_from
from nightwater.ground.tables import TABLES
from nightwater.survey.propose import Proposal, propose, to_changes
from nightwater.survey.read import SurveyRows, numbered_id

CRS = "EPSG:32612"
HEADS = TABLES["heads"]


def placed(table: str, shapes: dict[str, object], **columns: object) -> pd.DataFrame:
    index = pd.Index(list(shapes), name="id", dtype=object)
    frame = gpd.GeoDataFrame(columns, index=index, geometry=list(shapes.values()), crs=CRS)
    return conform(frame, TABLES[table], CRS)


def heads(spots: dict[str, tuple[float, float]], **columns: object) -> pd.DataFrame:
    return placed("heads", {key: Point(spot) for key, spot in spots.items()}, **columns)


def ground(**tables: pd.DataFrame) -> Ground:
    return ground_from(CRS, tables)


def survey(rows: pd.DataFrame, *, own: bool = False, unreadable: int = 0) -> SurveyRows:
    """A file of these rows; `own`: it gives their ids itself."""
    told = rows.dropna(axis="columns", how="all")
    places = {str(key): f"line {number}" for number, key in enumerate(rows.index, 2)}
    made = frozenset() if own else frozenset(places)
    return SurveyRows(told, places, made, frozenset(), (), "walk.csv", unreadable)


def nameless(spots: list[tuple[float, float]], **columns: object) -> SurveyRows:
    ids = [numbered_id("heads", n) for n in range(1, len(spots) + 1)]
    return survey(heads(dict(zip(ids, spots, strict=True)), **columns))


def after(record: Ground, proposal: Proposal, *, doubtful: bool) -> Ground:
    table = TABLES[proposal.table]
    rows = plain_rows(record.table(table.name), table)
    for change in to_changes(proposal, include_doubtful=doubtful).rows:
        rows.pop(change.id, None)
        if change.after is not None:
            rows[change.id] = dict(change.after)
    frame = pd.DataFrame(list(rows.values()), index=pd.Index(list(rows), name="id", dtype=object))
    return record.with_table(table.name, frame)


def told(proposal: Proposal, code: str) -> list[Finding]:
    return [finding for finding in proposal.findings if finding.code == code]


ROW = {f"H{n}": (20.0 * n, 0.0) for n in range(6)}


def test_moved_is_parted_from_changed_and_the_farthest_comes_first() -> None:
    record = ground(heads=heads(ROW, condition="good"))
    spots = [(x + 0.1 * n, y) for n, (x, y) in enumerate(ROW.values())]
    condition = ["worn", *["good"] * 5]
    proposal = propose(record, HEADS, nameless(spots, condition=condition))
    assert list(proposal.moved) == ["H5", "H4", "H3", "H2", "H1"]
    assert proposal.changed["H0"].columns == {"condition": ("good", "worn")}
    assert (proposal.added, proposal.doubtful, proposal.gone) == ({}, {}, ())
    note = told(proposal, "found-by-place")[0]
    assert "6 heads without an id" in note.message
    assert "the farthest 0.5 m" in note.message


def test_a_head_dug_up_is_moved_in_doubt_and_neither_new_nor_gone() -> None:
    record = ground(heads=heads(ROW))
    spots = [*list(ROW.values())[:5], (100, 8)]
    proposal = propose(record, HEADS, nameless(spots))
    assert list(proposal.doubtful) == ["H5"]
    assert (proposal.added, proposal.gone) == ({}, ())
    message = told(proposal, "moved-far")[0].message
    assert "nothing within 3 m of H5" in message
    assert "line 7" in message
    assert "8.0 m away" in message


def test_a_new_head_and_a_gone_one_farther_apart_than_a_spacing() -> None:
    record = ground(heads=heads(ROW))
    spots = [*(list(ROW.values())[:2]), *(list(ROW.values())[3:]), (40, 16)]
    proposal = propose(record, HEADS, nameless(spots))
    assert list(proposal.added) == ["head-0006"]
    assert proposal.gone == ("H2",)
    assert proposal.removed == {}
    assert "H2" in told(proposal, "not-in-survey")[0].message
    whole = propose(record, HEADS, nameless(spots), complete=True)
    assert list(whole.removed) == ["H2"]
    assert (whole.gone, told(whole, "not-in-survey")) == ((), [])


def test_what_lies_beyond_the_surveyed_ground_is_not_missed() -> None:
    record = ground(heads=heads(ROW | {"Z": (500, 500)}))
    proposal = propose(record, HEADS, nameless([(20.0 * n, 0) for n in (0, 1, 2, 4)]))
    assert proposal.gone == ("H3",)


def test_a_few_rows_are_no_survey_of_the_whole() -> None:
    record = ground(heads=heads(ROW))
    proposal = propose(record, HEADS, survey(heads({"H0": (0, 0), "H5": (100, 0)}), own=True))
    assert (proposal.gone, proposal.findings) == ((), ())


def test_two_that_fit_nearly_as_well_are_doubtful_with_the_runner_up() -> None:
    record = ground(heads=heads({"A": (0, 0), "B": (1.0, 0), "C": (50, 0)}))
    proposal = propose(record, HEADS, nameless([(0.45, 0), (50, 0)]))
    assert list(proposal.doubtful) == ["A"]
    message = told(proposal, "match-doubtful")[0].message
    assert "line 2" in message
    assert "B fits nearly as well" in message


def test_two_rows_for_one_thing_name_each_other() -> None:
    record = ground(heads=heads({"A": (0, 0), "C": (50, 0)}))
    proposal = propose(record, HEADS, nameless([(0.7, 0), (0, 0.6), (50, 0)]))
    assert list(proposal.doubtful)[-1] == "A"
    assert "the row at line 2 fits nearly as well" in told(proposal, "match-doubtful")[0].message
    assert len(proposal.added) == 1


def test_the_arc_tells_heads_back_to_back_apart() -> None:
    record = ground(heads=heads({"in": (0, 0), "out": (1, 0)}, bearing_deg=[270.0, 90.0]))
    rows = nameless([(0.9, 0.3), (0.2, 0)], bearing_deg=[275.0, 95.0])
    proposal = propose(record, HEADS, rows)
    assert proposal.doubtful == {}
    assert proposal.moved["in"].after["geometry"].x == 0.9  # type: ignore[index]
    assert proposal.moved["out"].after["geometry"].x == 0.2  # type: ignore[index]


def test_numbers_of_its_own_are_found_by_place_and_keep_the_records_ids() -> None:
    record = ground(heads=heads(ROW))
    own = {f"wp{n}": (x + 1.0, y) for n, (x, y) in enumerate(ROW.values())}
    proposal = propose(record, HEADS, survey(heads(own), own=True))
    assert sorted(proposal.moved) == sorted(ROW)
    assert proposal.added == {}
    assert "whose ids the record does not know" in told(proposal, "found-by-place")[0].message


def test_one_new_id_beside_a_head_does_not_become_it() -> None:
    record = ground(heads=heads(ROW))
    proposal = propose(record, HEADS, survey(heads({"H9": (2.0, 0)}), own=True))
    assert list(proposal.doubtful) == ["H9"]
    assert proposal.doubtful["H9"].before is None
    assert "2.0 m from H0" in told(proposal, "same-place")[0].message


def test_a_file_that_knows_some_ids_means_the_others_as_new() -> None:
    record = ground(heads=heads(ROW))
    rows = heads(ROW | {"H9": (2.0, 0)})
    assert list(propose(record, HEADS, survey(rows, own=True)).added) == ["H9"]


def test_the_same_numbers_in_another_order_are_noticed() -> None:
    record = ground(heads=heads({str(n): (20.0 * n, 0) for n in range(6)}))
    rows = survey(heads({str(n): (20.0 * (5 - n), 0) for n in range(6)}), own=True)
    proposal = propose(record, HEADS, rows)
    assert "6 of 6 known ids" in told(proposal, "ids-of-its-own")[0].message
    assert len(proposal.doubtful) == 6
    settled = propose(record, HEADS, rows, own_ids=True)
    assert len(to_changes(settled, include_doubtful=True)) == 0


def test_a_row_that_cannot_be_read_may_be_the_one_that_seems_gone() -> None:
    record = ground(heads=heads(ROW))
    rows = replace(nameless(list(ROW.values())[:5]), unreadable=1)
    proposal = propose(record, HEADS, rows, complete=True)
    assert (proposal.removed, list(proposal.doubtful)) == ({}, ["H5"])
    assert "1 of its rows" in told(proposal, "removal-doubtful")[0].message
    assert propose(record, HEADS, rows).gone == ()


def outline(low: float, high: float, top: float = 20.0) -> MultiPolygon:
    return MultiPolygon([box(low, 0, high, top)])


def test_a_green_drawn_anew_keeps_its_id() -> None:
    record = ground(
        areas=placed("areas", {"G": outline(0, 30), "T": outline(90, 99)}, kind="green")
    )
    rows = placed("areas", {"area-0001": outline(1, 31), "area-0002": outline(90, 99)})
    rows = rows.assign(kind="green")
    proposal = propose(record, TABLES["areas"], survey(rows))
    assert list(proposal.moved) == ["G"]
    assert proposal.added == {}


def test_ground_half_shared_is_doubtful_and_another_kind_is_another_area() -> None:
    record = ground(areas=placed("areas", {"G": outline(0, 30)}, kind="green"))
    half = placed("areas", {"area-0001": outline(0, 30, 38)}).assign(kind="green")
    proposal = propose(record, TABLES["areas"], survey(half))
    assert "shares only 53%" in told(proposal, "outline-differs")[0].message
    assert list(proposal.doubtful) == ["G"]
    fairway = half.assign(kind="fairway")
    assert list(propose(record, TABLES["areas"], survey(fairway)).added) == ["area-0001"]


def test_two_pipes_in_one_trench_are_each_found() -> None:
    def pipes(names: list[str], north: float) -> pd.DataFrame:
        lines = [MultiLineString([[(0, y + north), (90, y + north)]]) for y in (0.0, 0.6)]
        return placed("pipes", dict(zip(names, lines, strict=True))).assign(
            diameter_mm=[160.0, 54.0]
        )

    record = ground(pipes=pipes(["main", "lateral"], 0.0))
    rows = survey(pipes(["pipe-0001", "pipe-0002"], 0.4))
    proposal = propose(record, TABLES["pipes"], rows)
    assert sorted(proposal.moved) == ["lateral", "main"]


def test_a_label_on_another_path_is_another_station() -> None:
    index = pd.Index(["A1"], name="id")
    known = pd.DataFrame({"label": ["1"], "controller": ["A"], "output": [1]}, index=index)
    record = ground(stations=known)
    rows = known.set_axis(["station-0001"]).assign(controller="B", output=7)
    proposal = propose(record, TABLES["stations"], survey(rows))
    assert (list(proposal.added), proposal.changed) == (["station-0001"], {})
    same = rows.assign(controller="A")
    assert list(propose(record, TABLES["stations"], survey(same)).changed) == ["A1"]


# Every place a head apart by more than two gates, so that the truth is known.
grid = st.lists(
    st.tuples(st.integers(0, 5), st.integers(0, 5)), min_size=1, max_size=12, unique=True
)


@settings(max_examples=60, deadline=None)
@given(spots=grid, seed=st.integers(0, 1000))
def test_moves_below_the_gate_are_found_one_to_one(spots: list[tuple[int, int]], seed: int) -> None:
    chance = np.random.default_rng(seed)
    known = {f"H{n}": (8.0 * x, 8.0 * y) for n, (x, y) in enumerate(spots)}
    turn, far = chance.uniform(0, 2 * np.pi, len(known)), chance.uniform(0, 2.4, len(known))
    moved = [
        (x + r * np.sin(t), y + r * np.cos(t))
        for (x, y), r, t in zip(known.values(), far, turn, strict=True)
    ]
    order = chance.permutation(len(moved))
    proposal = propose(
        ground(heads=heads(known)), HEADS, nameless([moved[place] for place in order])
    )
    assert proposal.added == {}
    every = {**proposal.moved, **proposal.doubtful}
    for (key, _), (x, y) in zip(known.items(), moved, strict=True):
        assert every[key].after["geometry"].equals_exact(Point(x, y), 1e-9)  # type: ignore[index]


loose = st.lists(st.tuples(st.integers(0, 16), st.integers(0, 4)), max_size=9, unique=True)


@settings(max_examples=80, deadline=None)
@given(known=loose, walked=loose, doubtful=st.booleans(), seed=st.integers(0, 99))
def test_nothing_is_ever_doubled_and_a_third_survey_changes_nothing(
    known: list[tuple[int, int]], walked: list[tuple[int, int]], doubtful: bool, seed: int
) -> None:
    record = ground(heads=heads({f"H{n}": spot for n, spot in enumerate(known)}))
    rows = nameless([(x + 0.3, y) for x, y in walked])
    proposal = propose(record, HEADS, rows)
    parts = [proposal.added, proposal.moved, proposal.changed, proposal.doubtful]
    ids = [key for part in parts for key in part]
    assert len(ids) == len(set(ids)) == len(walked)
    final = after(record, proposal, doubtful=doubtful)
    assert final.heads.index.is_unique
    assert len(final.heads) == len(known) + len(proposal.added) + doubtful * sum(
        change.before is None for change in proposal.doubtful.values()
    )
    if doubtful:
        again = propose(final, HEADS, rows)
        assert len(to_changes(again, include_doubtful=True)) == 0
    order = np.random.default_rng(seed).permutation(len(walked))
    turned = replace(rows, rows=rows.rows.iloc[order])
    other = propose(record, HEADS, turned)
    for part in ("moved", "doubtful"):
        first, second = getattr(proposal, part), getattr(other, part)
        assert {k: c.after for k, c in first.items() if c.before} == {
            k: c.after for k, c in second.items() if c.before
        }
