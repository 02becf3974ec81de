"""Cut by a drawn line, and put together again."""

from __future__ import annotations

from typing import Any

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, MultiPolygon, Polygon, box

from nightwater.findings import UserError
from nightwater.ground.edits.merge import merge
from nightwater.ground.edits.pieces import area_pieces, line_pieces
from nightwater.ground.edits.split import split
from nightwater.ground.record import Ground


@pytest.fixture
def ground(make: Any, hole: Any) -> Ground:
    hole["pipes"] = {
        "P1": {"kind": "main", "diameter_mm": 150.0, "label": "main",
               "geometry": LineString([(0, 0), (100, 0)])},
        "P2": {"kind": "main", "diameter_mm": 150.0, "geometry": LineString([(100, 0), (100, 50)])},
        "P3": {"kind": "lateral", "diameter_mm": 150.0,
               "geometry": LineString([(100, 50), (120, 50)])},
        "P4": {"kind": "main", "diameter_mm": 100.0,
               "geometry": LineString([(100, 50), (100, 90)])},
        "P5": {"kind": "main", "diameter_mm": 150.0,
               "geometry": LineString([(100.5, 50), (100.5, 90)])},
    }  # fmt: skip
    return make(hole)


def test_the_larger_part_keeps_the_id(ground: Ground) -> None:
    after = split(ground, "areas", "fairway", [(100, -99), (100, 99)])
    assert after.areas.geometry["fairway"].bounds == (100, -15, 250, 15)
    assert after.areas.geometry["area-0001"].bounds == (40, -15, 100, 15)
    assert after.areas.loc["area-0001", "kind"] == "fairway"
    assert after.areas.loc["area-0001", "label"] is None


def test_what_only_the_whole_had_is_gone(make: Any, hole: Any) -> None:
    hole["areas"]["fairway"] |= {"wetted_m2": 6000.0, "soil": "loam", "label": "F 1"}
    after = split(make(hole), "areas", "fairway", [(100, -99), (100, 99)])
    assert after.areas.loc[["fairway", "area-0001"], "wetted_m2"].isna().all()
    assert list(after.areas.loc[["fairway", "area-0001"], "soil"]) == ["loam", "loam"]
    assert after.areas.loc["fairway", "label"] == "F 1"


def test_heads_that_declare_the_area_follow_their_part(make: Any, hole: Any) -> None:
    for head in ("F1", "F2", "G2"):
        hole["heads"][head] |= {"area": "fairway"}  # at x = 60, 80 and 235
    after = split(make(hole), "areas", "fairway", [(70, -99), (70, 99)])
    assert list(after.heads.loc[["F1", "F2", "G2"], "area"]) == ["area-0001", "fairway", "fairway"]
    assert after.heads.loc["R1", "area"] is None


def test_a_bent_area_falls_into_three() -> None:
    horseshoe = Polygon([(0, 0), (10, 0), (10, 9), (7, 9), (7, 3), (4, 3), (4, 9), (0, 9)])
    pieces = area_pieces(MultiPolygon([horseshoe]), LineString([(-1, 5), (11, 5)]))
    assert pieces.kept.area == pytest.approx(10 * 3 + 7 * 2)
    assert [part.area for part in pieces.others] == pytest.approx([16.0, 12.0])


def test_a_part_that_the_line_leaves_alone_stays_with_the_id() -> None:
    both = MultiPolygon([box(0, 0, 10, 10), box(20, 0, 50, 10)])
    pieces = area_pieces(both, LineString([(4, -1), (4, 11)]))
    assert pieces.kept.area == pytest.approx(60 + 300)
    assert [part.area for part in pieces.others] == pytest.approx([40.0])


def test_an_area_with_a_hole_is_cut_through_it() -> None:
    ring = Polygon(box(0, 0, 10, 10).exterior, [box(4, 4, 6, 6).exterior])
    pieces = area_pieces(MultiPolygon([ring]), LineString([(5, -1), (5, 11)]))
    assert pieces.kept.area == pytest.approx(48)
    assert [part.area for part in pieces.others] == pytest.approx([48])


@pytest.mark.parametrize(
    ("line", "sentence"),
    [
        ([(-5, 50), (15, 50)], "does not cross the area from edge to edge"),
        ([(5, 5), (15, 5)], "does not cross the area from edge to edge"),
        ([(0, 0), (10, 0)], "does not cross the area from edge to edge"),
        ([(0.0005, -1), (0.0005, 11)], r"would cut off 0.005 m²"),
    ],
)
def test_a_line_that_cuts_nothing_is_told(line: Any, sentence: str) -> None:
    with pytest.raises(UserError, match=sentence):
        area_pieces(MultiPolygon([box(0, 0, 10, 10)]), LineString(line))


def test_a_pipe_is_cut_where_the_line_crosses(ground: Ground) -> None:
    after = split(ground, "pipes", "P1", [(30, -5), (30, 5)])
    assert after.pipes.geometry["P1"].length == pytest.approx(70)
    assert after.pipes.geometry["pipe-0001"].length == pytest.approx(30)
    assert float(after.pipes.loc["pipe-0001", "diameter_mm"]) == 150.0


def test_a_line_drawn_from_the_pipe_cuts_it_there() -> None:
    pipe = shapely.multilinestrings([LineString([(0, 0), (10, 0)])])
    pieces = line_pieces(pipe, LineString([(2, 0), (2, 4)]))
    assert [pieces.kept.length, pieces.others[0].length] == pytest.approx([8, 2])


def test_a_cut_line_of_play_leaves_number_and_par(make: Any, hole: Any) -> None:
    hole["holes"]["H1"] |= {"par": 4, "label": "the first"}
    after = split(make(hole), "holes", "H1", [(100, -5), (100, 5)])
    assert int(after.holes.loc["H1", "number"]) == 1
    assert after.holes.loc["hole-0001", ["number", "par", "label"]].isna().all()


@pytest.mark.parametrize(
    ("line", "sentence"),
    [
        ([(0, 5), (9, 5)], "does not cross it"),
        ([(2, -1), (2, 1), (4, 1), (4, -1)], "must cross it once"),
        ([(2, 0), (4, 0)], "must cross it once"),
        ([(10, 0), (10, 4)], "only touches it"),
        ([(10, -1), (10, 1)], "only touches it"),
    ],
)
def test_a_pipe_that_is_not_cut_is_told(line: Any, sentence: str) -> None:
    with pytest.raises(UserError, match=sentence):
        line_pieces(shapely.multilinestrings([LineString([(0, 0), (10, 0)])]), LineString(line))


def test_only_some_tables_are_cut_and_merged(ground: Ground) -> None:
    with pytest.raises(UserError, match="heads cannot be split; areas, pipes, holes can"):
        split(ground, "heads", "F1", [(0, 0), (1, 1)])
    with pytest.raises(UserError, match="holes cannot be merged; areas and pipes can"):
        merge(ground, "holes", ["H1"])


def test_the_first_keeps_its_id_and_what_names_the_others_names_it(make: Any, hole: Any) -> None:
    hole["areas"]["east"] = {
        "kind": "fairway",
        "wetted_m2": 50.0,
        "geometry": box(250, -15, 260, 15),
    }
    hole["areas"]["fairway"] |= {"wetted_m2": 100.0, "soil": "loam"}
    hole["heads"]["F1"] |= {"area": "east"}
    after = merge(make(hole), "areas", ["fairway", "east"])
    assert "east" not in after.areas.index
    assert after.areas.geometry["fairway"].bounds == (40, -15, 260, 15)
    assert float(after.areas.loc["fairway", "wetted_m2"]) == 150.0
    assert after.areas.loc["fairway", "soil"] == "loam"
    assert after.heads.loc["F1", "area"] == "fairway"


def test_a_sum_with_an_unknown_part_is_unknown(make: Any, hole: Any) -> None:
    hole["areas"]["east"] = {"kind": "fairway", "geometry": box(250, -15, 260, 15)}
    hole["areas"]["fairway"] |= {"wetted_m2": 100.0}
    assert merge(make(hole), "areas", ["fairway", "east"]).areas["wetted_m2"].isna()["fairway"]


def test_pipes_are_joined_end_to_end(ground: Ground) -> None:
    after = merge(ground, "pipes", ["P1", "P2"])
    joined = after.pipes.geometry["P1"]
    assert joined.length == pytest.approx(150)
    assert len(joined.geoms) == 1
    assert after.pipes.loc["P1", "label"] == "main"


@pytest.mark.parametrize(
    ("table", "ids", "sentence"),
    [
        ("areas", ["green", "tee"], "Their kinds differ: green, tee"),
        ("areas", ["green"], "Merging takes two areas or more"),
        ("areas", ["green", "green"], "Merging takes two areas or more"),
        ("areas", ["green", "grn"], "grn is no area of the record. Did you mean 'green'"),
        ("pipes", ["P2", "P3"], "Their kinds differ: main, lateral"),
        ("pipes", ["P2", "P4"], "Their diameters differ: 150.0, 100.0"),
        ("pipes", ["P1", "P5"], "do not meet"),
    ],
)
def test_what_does_not_belong_together_is_told(
    ground: Ground, table: str, ids: list[str], sentence: str
) -> None:
    with pytest.raises(UserError) as told:
        merge(ground, table, ids)
    assert sentence in str(told.value)


@given(
    x=st.floats(-40, 40),
    y=st.floats(-40, 40),
    turn_deg=st.floats(0, 180),
    corner=st.tuples(st.floats(5, 90), st.floats(5, 90)),
)
@settings(max_examples=60, deadline=None)
def test_cut_pieces_are_sound_and_make_the_whole_again(
    x: float, y: float, turn_deg: float, corner: tuple[float, float]
) -> None:
    """At the size of projected coordinates, areas agree within 1e-6 m²."""
    east, north = 400_000.0, 4_340_000.0
    area = MultiPolygon([box(east - 50, north - 50, east + corner[0], north + corner[1])])
    line = shapely.affinity.rotate(LineString([(-500, 0), (500, 0)]), turn_deg, origin=(0, 0))
    line = shapely.affinity.translate(line, east + x, north + y)
    try:
        pieces = area_pieces(area, line)
    except UserError:
        return
    parts = [pieces.kept, *pieces.others]
    assert all(part.is_valid and part.geom_type == "MultiPolygon" for part in parts)
    assert pieces.kept.area >= max(part.area for part in pieces.others)
    together = shapely.union_all(parts)
    assert together.area == pytest.approx(area.area, abs=1e-6)
    assert shapely.symmetric_difference(together, area).area < 1e-6
