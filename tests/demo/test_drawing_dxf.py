"""The invented club as a drawing: as a drawing program makes it, and by our own export."""

from __future__ import annotations

import itertools
import math

import ezdxf
import numpy as np
import pytest
import shapely

from nightwater.findings import UserError
from nightwater.ground.changes import plain_rows
from nightwater.ground.record import conform, ground_from
from nightwater.ground.tables import GROUND_TABLES, TABLES
from nightwater.survey.drawing import drawing_layers
from nightwater.survey.drawing_out import write_drawing
from nightwater.survey.propose import propose, to_changes
from nightwater.survey.read import ReadOptions, read_table
from nightwater.units import M_PER_FT

SHAPED = tuple(name for name in GROUND_TABLES if TABLES[name].shape is not None)
ATTRIBUTES = ("station", "nozzle", "arc_deg", "bearing_deg")
MILLIMETRE = 0.001


@pytest.fixture(scope="module")
def exported(ground, tmp_path_factory):
    path = tmp_path_factory.mktemp("out") / "vellenby.dxf"
    assert write_drawing(ground, path) == ()
    return path


def add_heads(document, ground):
    block = document.blocks.new("HEAD")
    block.add_circle((0, 0), 1.0)
    for tag in ("ID", *map(str.upper, ATTRIBUTES)):
        block.add_attdef(tag, (0, 0))
    for key, row in ground.heads.iterrows():
        layer = {"layer": f"IRR-HEADS-{row['nozzle']}"}
        spot = (row.geometry.x / M_PER_FT, row.geometry.y / M_PER_FT)
        texts = {name.upper(): str(row[name]) for name in ATTRIBUTES if row[name] == row[name]}
        insert = document.modelspace().add_blockref("HEAD", spot, dxfattribs=layer)
        insert.add_auto_attribs({"ID": str(key)} | {k: v for k, v in texts.items() if v != "None"})


def add_areas(document, ground):
    """Outer rings as closed polylines, a layer for each kind."""
    for row in ground.areas.itertuples():
        for part in row.geometry.geoms:
            points = shapely.get_coordinates(part.exterior)[:-1] / M_PER_FT
            corners = [(x, y, 0.0) for x, y in points]
            document.modelspace().add_lwpolyline(
                corners, format="xyb", close=True, dxfattribs={"layer": f"TURF-{row.kind}"}
            )


def add_pipes(document, ground):
    for row in ground.pipes.itertuples():
        for part in row.geometry.geoms:
            points = shapely.get_coordinates(part) / M_PER_FT
            for start, end in itertools.pairwise(points):
                document.modelspace().add_line(start, end, dxfattribs={"layer": "IRR-PIPES"})


@pytest.fixture(scope="module")
def designed(ground, tmp_path_factory):
    """What a designer would hand over: feet, no map placement, blocks, polylines, lines."""
    document = ezdxf.new("R2010", units=2)
    add_heads(document, ground)
    add_areas(document, ground)
    add_pipes(document, ground)
    path = tmp_path_factory.mktemp("designed") / "designed.dxf"
    document.saveas(path)
    return path


def test_heads_of_the_drawing_stand_within_a_millimetre(designed, ground):
    options = ReadOptions(crs=ground.crs, layer="IRR-HEADS-*")
    survey = read_table(designed, TABLES["heads"], ground.crs, options)
    assert survey.findings == ()
    assert sorted(survey.rows.index) == sorted(ground.heads.index)
    known = ground.heads.loc[survey.rows.index]
    assert survey.rows.geometry.distance(known.geometry).max() < MILLIMETRE
    assert survey.rows["station"].tolist() == known["station"].tolist()
    assert survey.rows["nozzle"].tolist() == known["nozzle"].tolist()
    for name in ("arc_deg", "bearing_deg"):
        told = survey.rows[name].astype(float) if name in survey.rows else known[name] * np.nan
        assert told.to_numpy() == pytest.approx(known[name].to_numpy(), nan_ok=True)


def test_heads_on_many_layers_ask_which(designed, ground):
    with pytest.raises(UserError, match=r"holds points on \d+ layers.*IRR-HEADS-"):
        read_table(designed, TABLES["heads"], ground.crs, ReadOptions(crs=ground.crs))


def test_a_drawing_proposes_no_change_to_heads_that_are_known(designed, ground):
    options = ReadOptions(crs=ground.crs, layer="IRR-HEADS-*")
    survey = read_table(designed, TABLES["heads"], ground.crs, options)
    proposal = propose(ground, TABLES["heads"], survey, complete=True)
    changes = to_changes(proposal, include_doubtful=True)
    assert all(set(change.columns) == {"geometry"} for change in changes.rows)
    assert not proposal.added
    assert not proposal.removed


@pytest.mark.parametrize("kind", ["green", "tee", "fairway"])
def test_areas_of_the_drawing_cover_the_same_ground(designed, ground, kind):
    options = ReadOptions(crs=ground.crs, layer=f"TURF-{kind}", fixed={"kind": kind})
    survey = read_table(designed, TABLES["areas"], ground.crs, options)
    known = ground.areas[ground.areas["kind"] == kind]
    outlines = [shapely.Polygon(p.exterior) for m in known.geometry for p in m.geoms]
    assert len(survey.rows) == len(outlines)
    drawn = survey.rows.geometry.to_numpy()
    off = shapely.hausdorff_distance(drawn, np.array(outlines, dtype=object))
    assert off.max() < MILLIMETRE


def test_pipes_of_the_drawing_are_as_long(designed, ground):
    options = ReadOptions(crs=ground.crs, layer="IRR-PIPES", fixed={"diameter_mm": "50"})
    survey = read_table(designed, TABLES["pipes"], ground.crs, options)
    assert survey.rows.geometry.length.sum() == pytest.approx(
        ground.pipes.geometry.length.sum(), abs=MILLIMETRE * len(survey.rows)
    )
    off = shapely.distance(survey.rows.geometry.to_numpy(), ground.pipes.geometry.union_all())
    assert off.max() < MILLIMETRE


def test_round_greens_drawn_with_bulges_keep_their_ground(ground, tmp_path):
    """Each green as the circle of its own area, drawn as two half-turn bulges."""
    greens = ground.areas[ground.areas["kind"] == "green"]
    document = ezdxf.new("R2010", units=6)
    for shape in greens.geometry:
        radius, middle = math.sqrt(shape.area / math.pi), shape.centroid
        ends = [(middle.x - radius, middle.y, 1.0), (middle.x + radius, middle.y, 1.0)]
        document.modelspace().add_lwpolyline(ends, format="xyb", close=True)
    document.saveas(tmp_path / "greens.dxf")
    options = ReadOptions(crs=ground.crs, fixed={"kind": "green"})
    survey = read_table(tmp_path / "greens.dxf", TABLES["areas"], ground.crs, options)
    drawn, known = survey.rows.geometry.area.to_numpy(), greens.geometry.area.to_numpy()
    # Pieces within 0.02 m lie inside the circle: up to two thirds of 0.02 m times its way round.
    around = 2 * np.sqrt(np.pi * known)
    assert (drawn < known).all()
    assert (known - drawn < 0.02 * around).all()


@pytest.mark.parametrize("name", SHAPED)
def test_importing_the_export_gives_the_same_record(exported, ground, name):
    survey = read_table(exported, TABLES[name], ground.crs, ReadOptions())
    assert survey.findings == ()
    back = conform(survey.rows, TABLES[name], ground.crs)
    assert plain_rows(back, TABLES[name]) == plain_rows(ground.table(name), TABLES[name])


def test_the_export_changes_nothing_in_the_record_and_makes_a_new_one(exported, ground):
    survey = read_table(exported, TABLES["heads"], ground.crs, ReadOptions())
    same = propose(ground, TABLES["heads"], survey, complete=True)
    assert len(to_changes(same, include_doubtful=True)) == 0
    fresh = propose(ground_from(ground.crs, {}), TABLES["heads"], survey, complete=False)
    assert len(fresh.added) == len(ground.heads)


def test_the_export_has_a_layer_for_each_kind(exported, ground):
    layers = {layer: number for layer, _, number in drawing_layers(exported)}
    assert layers["HEADS"] == len(ground.heads)
    greens = ground.areas[ground.areas["kind"] == "green"].geometry
    rings = sum(1 + len(part.interiors) for shape in greens for part in shape.geoms)
    assert layers["AREAS-GREEN"] == rings
