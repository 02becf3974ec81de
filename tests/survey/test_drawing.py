"""Drawings as rows: units, systems, layers, blocks, labels, and what is refused with a sentence."""

from __future__ import annotations

import ezdxf
import pytest
import shapely

from nightwater.findings import UserError
from nightwater.ground.tables import TABLES
from nightwater.survey.drawing import DrawingWish, drawing_layers, read_drawing
from nightwater.survey.drawing_file import DRAWING_UNITS, MAX_DRAWING_BYTES, unit_in_metres
from nightwater.survey.drawing_walk import MAX_DEPTH, MAX_GRID
from nightwater.survey.read import ReadOptions, read_table
from nightwater.survey.suggest import suggest_columns
from nightwater.units import M_PER_US_SURVEY_FT

CRS = "EPSG:32612"
STATE_PLANE_FT = "EPSG:2227"  # California zone 3, US survey feet
EAST, NORTH = 413_000.0, 4_340_000.0
GREEN = {"kind": "green"}


@pytest.fixture
def drawn(tmp_path):
    """Write a drawing that a function draws, and give its path."""

    def write(draw, *, insunits=6, version="R2010", name="club.dxf"):
        document = ezdxf.new(version)
        document.header["$INSUNITS"] = insunits
        draw(document, document.modelspace())
        document.saveas(tmp_path / name)
        return tmp_path / name

    return write


def read(path, table="heads", **said):
    return read_table(path, TABLES[table], CRS, ReadOptions(**{"crs": CRS} | said))


def codes(survey):
    return [finding.code for finding in survey.findings]


def spots(survey):
    return [tuple(spot) for spot in shapely.get_coordinates(survey.rows.geometry.to_numpy())]


def head_block(document, *tags):
    block = document.blocks.new("HEAD")
    block.add_circle((0, 0), 0.3)
    for tag in tags:
        block.add_attdef(tag, (0, 0))


def add_head(space, spot, layer="HEADS", **texts):
    insert = space.add_blockref("HEAD", spot, dxfattribs={"layer": layer})
    return insert.add_auto_attribs(texts) if texts else insert


def two_heads(document, space):
    head_block(document, "ID", "ARC_DEG", "STATION", "SPACING_FT")
    for number in (1, 2):
        texts = {"ID": f"H{number}", "ARC_DEG": "180", "STATION": f"S{number}", "SPACING_FT": "65"}
        add_head(space, (EAST + number, NORTH), **texts)


# Blocks and their attributes


def test_block_attributes_are_columns_matched_as_any_file_s(drawn):
    survey = read(drawn(two_heads))
    assert survey.findings == ()
    assert list(survey.rows.index) == ["H1", "H2"]
    assert survey.rows.loc["H2", ["station", "arc_deg"]].tolist() == ["S2", 180.0]
    assert survey.rows.loc["H1", "spacing_m"] == pytest.approx(65 * 0.3048)
    assert spots(survey) == [(EAST + 1, NORTH), (EAST + 2, NORTH)]
    assert survey.places["H1"].startswith("INSERT ")
    assert survey.places["H1"].endswith(" on layer HEADS")


def test_an_attribute_without_its_unit_is_not_guessed(drawn):
    def draw(document, space):
        head_block(document, "ID", "SPACING")
        add_head(space, (EAST, NORTH), ID="H1", SPACING="65")

    assert codes(read(drawn(draw))) == ["unit-not-declared"]


def test_layer_block_handle_and_colour_can_be_matched_by_hand(drawn):
    def draw(document, space):
        document.layers.add("HEADS", color=3)
        head_block(document)
        add_head(space, (EAST, NORTH))
        add_head(space, (EAST + 9, NORTH)).dxf.color = 5

    path = drawn(draw)
    rows = read_drawing(path, DrawingWish(TABLES["heads"], crs=CRS))
    assert rows.cells["colour"].tolist() == [3, 5]
    assert rows.cells["layer"].tolist() == ["HEADS", "HEADS"]
    survey = read(path, columns={"handle": "id", "block": "label", "layer": "station"})
    assert survey.rows["label"].tolist() == ["HEAD", "HEAD"]
    assert survey.rows["station"].tolist() == ["HEADS", "HEADS"]
    assert list(survey.rows.index) == rows.cells["handle"].tolist()


def test_an_attribute_called_like_one_of_our_columns_stands_beside_it(drawn):
    def draw(document, space):
        head_block(document, "LAYER", "Text")
        add_head(space, (EAST, NORTH), LAYER="upper", Text="seen")

    rows = read_drawing(drawn(draw), DrawingWish(TABLES["heads"], crs=CRS))
    assert rows.cells["layer"].tolist() == ["HEADS"]
    assert rows.cells["attribute_LAYER"].tolist() == ["upper"]
    assert rows.cells["attribute_Text"].tolist() == ["seen"]


def test_tags_that_differ_only_in_case_are_one_column(drawn):
    def draw(document, space):
        head_block(document)
        for number, tag in enumerate(("Id", "ID")):
            insert = add_head(space, (EAST + number, NORTH))
            insert.add_attrib(tag, f"H{number}")

    assert list(read(drawn(draw)).rows.index) == ["H0", "H1"]


def test_constant_and_long_attributes_are_read(drawn):
    def draw(document, space):
        block = document.blocks.new("HEAD")
        block.add_attdef("CONDITION", (0, 0), "good", dxfattribs={"flags": 2})
        block.add_attdef("ID", (0, 0))
        add_head(space, (EAST, NORTH), ID="H1")

    assert read(drawn(draw)).rows.loc["H1", "condition"] == "good"


def test_a_grid_is_as_many_heads_with_an_id_each(drawn):
    def draw(document, space):
        head_block(document, "ID", "STATION")
        insert = add_head(space, (EAST, NORTH), ID="H1", STATION="S1")
        insert.dxf.row_count, insert.dxf.column_count = 2, 3
        insert.dxf.row_spacing, insert.dxf.column_spacing = 18.0, 20.0

    survey = read(drawn(draw))
    assert sorted(spots(survey)) == [
        (EAST + x, NORTH + y) for x in (0.0, 20.0, 40.0) for y in (0.0, 18.0)
    ]
    assert survey.rows["station"].tolist() == ["S1"] * 6
    assert codes(survey) == ["ids-made-up"]


def test_a_turned_grid_turns_its_heads(drawn):
    def draw(document, space):
        head_block(document)
        insert = add_head(space, (EAST, NORTH))
        insert.dxf.column_count, insert.dxf.column_spacing, insert.dxf.rotation = 2, 10.0, 90

    assert spots(read(drawn(draw)))[1] == pytest.approx((EAST, NORTH + 10))


def wrapped(document, space, times=1):
    head_block(document, "ID")
    green = document.blocks.new("GREEN-7")
    for number in range(3):
        add_head(green, (number * 10, 0), layer="0", ID=f"H{number}")
    for number in range(times):
        space.add_blockref("GREEN-7", (EAST, NORTH + 50 * number), dxfattribs={"layer": "G7"})


def test_a_block_that_wraps_heads_is_opened_and_layer_0_is_its_own(drawn):
    survey = read(drawn(wrapped), layer="G7")
    assert spots(survey) == [(EAST, NORTH), (EAST + 10, NORTH), (EAST + 20, NORTH)]
    assert list(survey.rows.index) == ["H0", "H1", "H2"]
    assert survey.places["H1"].endswith(".2 on layer G7")


def test_a_wrapping_block_scales_turns_and_mirrors_what_is_in_it(drawn):
    def draw(document, space):
        wrapped(document, space)
        insert = space.query("INSERT")[0]
        insert.dxf.rotation, insert.dxf.xscale, insert.dxf.yscale = 90, -2, 1

    assert spots(read(drawn(draw)))[2] == pytest.approx((EAST, NORTH - 40))


def test_a_symbol_made_of_blocks_is_one_head(drawn):
    def draw(document, space):
        document.blocks.new("ARROW").add_line((0, 0), (1, 0))
        head_block(document)
        document.blocks.get("HEAD").add_blockref("ARROW", (0, 0))
        for number in range(4):
            add_head(space, (EAST + number, NORTH))

    assert len(read(drawn(draw)).rows) == 4


def test_a_whole_course_in_one_block_is_opened(drawn):
    """A referenced drawing that somebody bound: inserted once, with lines beside its heads."""

    def draw(document, space):
        head_block(document)
        course = document.blocks.new("COURSE")
        course.add_line((0, 0), (9, 9))
        for number in range(4):
            add_head(course, (number, 0))
        space.add_blockref("COURSE", (EAST, NORTH))

    path = drawn(draw)
    assert len(read(path).rows) == 4
    assert len(read(path, "pipes", fixed={"diameter_mm": "50"}).rows) == 1


def test_a_block_with_attributes_is_never_opened_for_lines(drawn):
    def draw(document, space):
        head_block(document, "ID")
        add_head(space, (EAST, NORTH), ID="H1")
        space.add_circle((EAST, NORTH), 5, dxfattribs={"layer": "HEADS"})

    survey = read(drawn(draw), "areas", fixed=GREEN)
    assert len(survey.rows) == 1
    assert codes(survey) == ["entities-left-aside", "ids-made-up"]


def test_an_inserted_block_that_is_nowhere_defined_is_still_a_place(drawn):
    def draw(document, space):
        space.add_blockref("GONE", (EAST, NORTH))

    assert spots(read(drawn(draw))) == [(EAST, NORTH)]


# Points, circles and texts


def test_circles_and_points_are_heads_where_heads_are_wanted(drawn):
    def draw(_document, space):
        space.add_circle((EAST, NORTH), 20)
        space.add_point((EAST + 30, NORTH))

    path = drawn(draw)
    rows = read_drawing(path, DrawingWish(TABLES["heads"], crs=CRS))
    assert rows.cells["radius_m"].tolist() == [20.0, None]
    assert spots(read(path)) == [(EAST, NORTH), (EAST + 30, NORTH)]


def test_a_circle_is_ground_where_ground_is_wanted(drawn):
    survey = read(drawn(lambda _d, s: s.add_circle((EAST, NORTH), 10)), "areas", fixed=GREEN)
    assert survey.rows.geometry.iloc[0].area == pytest.approx(314.159, rel=0.003)


@pytest.mark.parametrize(("table", "fixed"), [("heads", {}), ("areas", GREEN)])
def test_circles_of_no_radius_are_bad_rows_and_hold_up_no_other(drawn, table, fixed):
    def draw(_document, space):
        for number, radius in enumerate((0, -1, 5)):
            space.add_circle((EAST + 20 * number, NORTH), radius)

    survey = read(drawn(draw), table, fixed=fixed)
    assert len(survey.rows) == 1
    bad = [f.message for f in survey.findings if f.code == "bad-row"]
    assert "its radius is 0" in bad[0]
    assert "its radius is -1" in bad[1]


def test_texts_near_heads_become_their_label_text(drawn):
    def draw(document, space):
        head_block(document)
        for number in range(3):
            add_head(space, (EAST + 20 * number, NORTH))
            label = space.add_text(f"7-{number}", dxfattribs={"layer": "LABELS"})
            label.set_placement((EAST + 20 * number + 1, NORTH + 1))
        space.add_mtext("{\\fArial;far} away", dxfattribs={"insert": (EAST, NORTH + 300)})

    survey = read(drawn(draw), columns={"label_text": "label"})
    assert survey.rows["label"].tolist() == ["7-0", "7-1", "7-2"]
    assert codes(survey) == ["ids-made-up"]
    assert "unknown-column" in codes(read(drawn(draw)))


def test_a_label_between_two_heads_is_left_aside_and_told(drawn):
    def draw(document, space):
        head_block(document)
        add_head(space, (EAST, NORTH))
        add_head(space, (EAST + 4, NORTH))
        space.add_text("7-1").set_placement((EAST + 2.05, NORTH))

    survey = read(drawn(draw))
    assert "labels-left-aside" in codes(survey)
    assert (
        "label_text" not in read_drawing(drawn(draw), DrawingWish(TABLES["heads"], crs=CRS)).cells
    )


def test_labels_are_measured_in_metres(drawn):
    """4 m is 13 ft: near enough; 13 m is not."""

    def draw(document, space):
        head_block(document)
        add_head(space, (0, 0))
        space.add_text("7-1").set_placement((13, 0))

    for unit, found in (("ft", True), ("m", False)):
        wish = DrawingWish(TABLES["heads"], unit=unit, crs=CRS)
        assert ("label_text" in read_drawing(drawn(draw, insunits=0), wish).cells) == found


def test_texts_are_points_where_nothing_else_is(drawn):
    def draw(_document, space):
        space.add_text("7-1 %%d").set_placement((EAST, NORTH))
        space.add_mtext("{\\fArial;7-2}", dxfattribs={"insert": (EAST + 9, NORTH)})
        space.add_text("   ").set_placement((EAST + 18, NORTH))

    survey = read(drawn(draw), columns={"text": "label"})
    assert survey.rows["label"].tolist() == ["7-1 °", "7-2"]


# Lines and ground


def test_lines_and_curves_are_pipes(drawn):
    def draw(_document, space):
        space.add_line((EAST, NORTH), (EAST + 30, NORTH))
        space.add_lwpolyline([(EAST, NORTH), (EAST, NORTH + 5), (EAST + 5, NORTH + 5)])
        space.add_arc((EAST, NORTH), 10, 0, 90)
        space.add_spline([(EAST, NORTH), (EAST + 9, NORTH + 3), (EAST + 20, NORTH)])
        space.add_line((EAST, NORTH), (EAST, NORTH))

    survey = read(drawn(draw), "pipes", fixed={"diameter_mm": "50"})
    lengths = survey.rows.geometry.length.tolist()
    assert lengths[:3] == pytest.approx([30, 10, 15.708], abs=0.02)
    assert len(lengths) == 4
    assert "1 LINE without length" in survey.findings[0].message


def test_loose_lines_and_arcs_close_an_outline_and_it_is_told(drawn):
    """Two straights of 40 m and two half circles of radius 10 m: 800 + 100 π m²."""

    def draw(_document, space):
        space.add_line((EAST, NORTH), (EAST + 40, NORTH))
        space.add_arc((EAST + 40, NORTH + 10), 10, 270, 90)
        space.add_line((EAST + 40.03, NORTH + 20), (EAST, NORTH + 20))
        space.add_arc((EAST, NORTH + 10), 10, 90, 270)
        space.add_line((EAST + 100, NORTH), (EAST + 140, NORTH))

    survey = read(drawn(draw), "areas", fixed=GREEN)
    assert survey.rows.geometry.area.tolist() == pytest.approx([1114.16], rel=2e-3)
    told = next(f.message for f in survey.findings if f.code == "outlines-closed")
    assert "1 outlines were closed" in told
    assert "1 lines close none" in told


def test_lines_of_two_layers_close_no_outline_together(drawn):
    def draw(_document, space):
        for layer, line in enumerate((((0, 0), (40, 0)), ((40, 0), (40, 20)), ((40, 20), (0, 0)))):
            space.add_line(*line, dxfattribs={"layer": f"L{layer % 2}"})

    with pytest.raises(UserError, match=r"holds no outlines.*L0 \(2 LINE\), L1 \(1 LINE\)"):
        read(drawn(draw), "areas", fixed=GREEN)


def test_a_hatch_in_its_outline_is_one_area(drawn):
    def draw(_document, space):
        corners = [(EAST, NORTH), (EAST + 20, NORTH), (EAST + 20, NORTH + 10), (EAST, NORTH + 10)]
        space.add_lwpolyline(corners, close=True)
        space.add_hatch().paths.add_polyline_path(corners)
        space.add_hatch().paths.add_polyline_path([(x + 100, y) for x, y in corners])

    survey = read(drawn(draw), "areas", fixed=GREEN)
    assert survey.rows.geometry.area.tolist() == [200.0, 200.0]
    assert codes(survey) == ["outline-twice", "ids-made-up"]


def test_a_bow_tie_is_refused_as_in_any_file(drawn):
    bow = [(EAST, NORTH), (EAST + 9, NORTH + 9), (EAST + 9, NORTH), (EAST, NORTH + 9)]
    survey = read(drawn(lambda _d, s: s.add_lwpolyline(bow, close=True)), "areas", fixed=GREEN)
    assert "repaired in two ways" in survey.findings[0].message


def test_heights_are_told_of(drawn):
    survey = read(drawn(lambda _d, s: s.add_point((EAST, NORTH, 1372))))
    assert "heights-left-aside" in codes(survey)


def test_what_cannot_be_read_is_counted(drawn):
    def draw(document, space):
        space.add_point((EAST, NORTH))
        space.add_line((EAST, NORTH), (EAST + 1, NORTH))
        space.add_3dface([(0, 0), (1, 0), (1, 1)], dxfattribs={"layer": "TERRAIN"})
        image = document.add_image_def("photo.png", (10, 10))
        space.add_image(image, (0, 0), (10, 10), dxfattribs={"layer": "PHOTO"})
        document.add_xref_def("other.dxf", "OTHER")
        space.add_blockref("OTHER", (0, 0), dxfattribs={"layer": "XREF"})
        space.add_polyface().append_face([(0, 0, 0), (1, 0, 0), (1, 1, 1)])

    message = read(drawn(draw)).findings[0].message
    assert "1 3DFACE, 1 IMAGE, 1 LINE, 1 MESH, 1 XREF" in message


# Units and systems


@pytest.mark.parametrize(
    ("code", "metres"),
    [
        (1, 0.0254),
        (2, 0.3048),
        (3, 1609.344),
        (4, 0.001),
        (5, 0.01),
        (6, 1.0),
        (7, 1000.0),
        (10, 0.9144),
        (21, 1200 / 3937),
    ],
)
def test_the_declared_unit_is_taken(drawn, code, metres):
    """Codes of $INSUNITS in the DXF reference; lengths exact by definition."""
    survey = read(drawn(lambda _d, s: s.add_point((1000, 500)), insunits=code))
    assert spots(survey) == [pytest.approx((1000 * metres, 500 * metres), rel=1e-12)]


def test_a_drawing_without_unit_asks_for_it(drawn):
    path = drawn(lambda _d, s: s.add_point((1000, 500)), insunits=0)
    with pytest.raises(UserError, match=r"club\.dxf does not say the unit.*--drawing-unit ft"):
        read(path)
    assert spots(read(path, drawing_unit="ft")) == [pytest.approx((304.8, 152.4))]


def test_the_oldest_drawings_have_no_unit(drawn):
    path = drawn(lambda _d, s: s.add_point((1000, 500)), version="R12")
    with pytest.raises(UserError, match="does not say the unit"):
        read(path)


def test_a_unit_that_nobody_here_knows_asks_too(drawn):
    path = drawn(lambda _d, s: s.add_point((1, 1)), insunits=18)
    with pytest.raises(UserError, match="states its unit as number 18, which is not known here"):
        read(path)


def test_a_person_s_unit_wins_over_the_declared_one_with_a_warning(drawn):
    path = drawn(lambda _d, s: s.add_point((1000, 500)), insunits=1)
    survey = read(path, drawing_unit="m")
    assert spots(survey) == [(1000.0, 500.0)]
    assert survey.findings[0].code == "drawing-unit-overruled"
    assert codes(read(path, drawing_unit="in")) == ["ids-made-up"]


@pytest.mark.parametrize("unit", ["acre", "foot", "", "psi"])
def test_a_unit_that_is_no_length_is_refused(drawn, unit):
    path = drawn(lambda _d, s: s.add_point((1, 1)), insunits=0)
    with pytest.raises(UserError, match=f"cannot be drawn in '{unit}'.*us-ft"):
        read(path, drawing_unit=unit)


def test_every_unit_of_a_drawing_is_a_length():
    lengths = {unit: unit_in_metres(unit) for unit in DRAWING_UNITS}
    assert lengths["us-ft"] == M_PER_US_SURVEY_FT
    assert (lengths["mm"], lengths["cm"], lengths["m"], lengths["km"]) == (0.001, 0.01, 1.0, 1000.0)
    assert (lengths["in"], lengths["ft"], lengths["mile"]) == (0.0254, 0.3048, 1609.344)


def test_a_drawing_does_not_say_where_it_lies(drawn):
    path = drawn(lambda _d, s: s.add_point((1, 1)))
    with pytest.raises(UserError, match=r"does not say its coordinate system\. Say it with --crs"):
        read(path, crs=None)


def test_a_system_in_degrees_is_no_drawing_s(drawn):
    path = drawn(lambda _d, s: s.add_point((1, 1)))
    with pytest.raises(UserError, match="EPSG:4326 measures in degrees"):
        read(path, crs="EPSG:4326")
    with pytest.raises(UserError, match="not a known coordinate system"):
        read(path, crs="EPSG:nowhere")


@pytest.mark.parametrize(
    ("insunits", "factor"), [(21, 1.0), (6, M_PER_US_SURVEY_FT), (4, 1000 * M_PER_US_SURVEY_FT)]
)
def test_a_system_in_feet_takes_a_drawing_in_any_unit(drawn, insunits, factor):
    """The same place of a state-plane system, drawn in its feet, in metres, in millimetres."""
    east_ft, north_ft = 6_000_000.0, 2_100_000.0
    path = drawn(
        lambda _d, s: s.add_point((east_ft * factor, north_ft * factor)), insunits=insunits
    )
    survey = read_table(path, TABLES["heads"], STATE_PLANE_FT, ReadOptions(crs=STATE_PLANE_FT))
    assert spots(survey) == [pytest.approx((east_ft, north_ft), abs=1e-6)]


def on_the_map(epsg, unit_m, **local):
    """A map placement with the given design and reference point."""

    def draw(document, space):
        space.add_point((100, 0))
        geodata = space.new_geodata()
        geodata.setup_local_grid(crs=SYSTEM.format(epsg=epsg), **local)
        geodata.dxf.horizontal_unit_scale = unit_m

    return draw


SYSTEM = (
    "<Dictionary><Alias id='{epsg}' type='CoordinateSystem'><Namespace>EPSG Code</Namespace>"
    "</Alias><CoordinateSystemAxis><AxisOrder>1</AxisOrder><AxisAbbreviation>E</AxisAbbreviation>"
    "</CoordinateSystemAxis></Dictionary>"
)


def test_a_drawing_placed_on_the_map_needs_no_system(drawn):
    draw = on_the_map(32612, 1.0, design_point=(40, 0), reference_point=(EAST, NORTH))
    path = drawn(draw)
    assert spots(read(path, crs=None)) == [(EAST + 60, NORTH)]
    assert spots(read(path, crs=CRS)) == [(EAST + 60, NORTH)]
    with pytest.raises(UserError, match="declares WGS 84 / UTM zone 12N, not EPSG:32613"):
        read(path, crs="EPSG:32613")


def test_a_turned_map_placement_turns_the_drawing(drawn):
    """North of the map is where the drawing's x points: 100 along x is 100 m north."""
    draw = on_the_map(
        32612, 1.0, design_point=(0, 0), reference_point=(EAST, NORTH), north_direction=(1, 0)
    )
    assert spots(read(drawn(draw), crs=None)) == [pytest.approx((EAST, NORTH + 100))]


def test_a_map_placement_in_feet_onto_a_system_in_feet(drawn):
    draw = on_the_map(2227, 0.3048, design_point=(0, 0), reference_point=(6e6, 2.1e6))
    survey = read_table(drawn(draw, insunits=2), TABLES["heads"], STATE_PLANE_FT, ReadOptions())
    east_us_ft = 6e6 + 100 * 0.3048 / M_PER_US_SURVEY_FT
    assert spots(survey) == [pytest.approx((east_us_ft, 2.1e6), abs=1e-6)]


def test_a_map_placement_in_another_unit_than_the_drawing_is_refused(drawn):
    path = drawn(on_the_map(32612, 0.3048, design_point=(0, 0), reference_point=(EAST, NORTH)))
    with pytest.raises(UserError, match=r"0\.3048 m where it is placed on the map, and as 1 m"):
        read(path, crs=None)
    assert spots(read(path, crs=None, drawing_unit="ft")) == [pytest.approx((EAST + 30.48, NORTH))]


@pytest.mark.parametrize("epsg", [4326, 999_999])
def test_a_map_placement_that_is_not_understood_is_told_and_left_aside(drawn, epsg):
    path = drawn(on_the_map(epsg, 1.0, design_point=(0, 0), reference_point=(EAST, NORTH)))
    survey = read(path)
    assert "map-placement-unused" in codes(survey)
    assert spots(survey) == [(100.0, 0.0)]
    with pytest.raises(UserError, match="--crs"):
        read(path, crs=None)


# Layers


def layered(document, space):
    head_block(document)
    add_head(space, (EAST, NORTH), layer="IRR-HEADS-F")
    add_head(space, (EAST + 9, NORTH), layer="IRR-HEADS-G")
    add_head(space, (EAST + 18, NORTH), layer="TREES")
    space.add_point((EAST + 27, NORTH), dxfattribs={"layer": "TREES"})
    space.add_line((EAST, NORTH), (EAST + 9, NORTH), dxfattribs={"layer": "IRR-MAIN"})


def test_several_layers_that_fit_are_listed_with_their_counts(drawn):
    listed = (
        r"holds points on 3 layers. Name one with --layer.*IRR-HEADS-F \(1 INSERT\), "
        r"IRR-HEADS-G \(1 INSERT\), TREES \(1 INSERT, 1 POINT\)\."
    )
    with pytest.raises(UserError, match=listed):
        read(drawn(layered))


def test_the_one_layer_that_fits_is_taken(drawn):
    survey = read(drawn(layered), "pipes", fixed={"diameter_mm": "50"})
    assert len(survey.rows) == 1


@pytest.mark.parametrize(
    ("layer", "rows"),
    [("IRR-HEADS*", 2), ("irr-heads-f", 1), ("*", 4), ("TREES", 2), ("irr-h*-[g]", 1)],
)
def test_layers_are_chosen_by_name_or_pattern_in_any_case(drawn, layer, rows):
    assert len(read(drawn(layered), layer=layer).rows) == rows


def test_a_layer_whose_name_looks_like_a_pattern_is_taken_by_name(drawn):
    def draw(_document, space):
        space.add_point((EAST, NORTH), dxfattribs={"layer": "HEADS[1]"})
        space.add_point((EAST + 9, NORTH), dxfattribs={"layer": "HEADS1"})

    assert spots(read(drawn(draw), layer="heads[1]")) == [(EAST, NORTH)]


def test_a_layer_that_is_not_there_or_holds_nothing_fitting_is_refused(drawn):
    path = drawn(layered)
    with pytest.raises(UserError, match=r"no layer 'HEADS'. It holds IRR-HEADS-F \(1 INSERT\)"):
        read(path, layer="HEADS")
    with pytest.raises(UserError, match=r"holds no points there. Chosen: IRR-MAIN \(1 LINE\)"):
        read(path, layer="IRR-MAIN")


def test_a_drawing_with_nothing_for_the_table_says_what_it_has(drawn):
    path = drawn(lambda d, s: (layered(d, s), d.blocks.get("HEAD").delete_all_entities()))
    with pytest.raises(UserError, match=r"holds no outlines. Its layers: .*IRR-MAIN \(1 LINE\)"):
        read(path, "areas", fixed=GREEN)
    with pytest.raises(UserError, match="model space is empty"):
        read(drawn(lambda _d, _s: None))


def test_a_hundred_layers_are_not_all_listed(drawn):
    def draw(_document, space):
        for number in range(100):
            space.add_point((EAST, NORTH), dxfattribs={"layer": f"L{number:03d}"})

    with pytest.raises(UserError, match=r"L019 \(1 POINT\), and 80 more\."):
        read(drawn(draw))


def test_layers_are_shown_with_their_kinds_and_counts(drawn):
    assert drawing_layers(drawn(layered)) == [
        ("IRR-HEADS-F", "INSERT", 1),
        ("IRR-HEADS-G", "INSERT", 1),
        ("IRR-MAIN", "LINE", 1),
        ("TREES", "INSERT", 1),
        ("TREES", "POINT", 1),
    ]
    assert drawing_layers(drawn(wrapped)) == [("G7", "INSERT", 3)]


def test_columns_of_a_drawing_can_be_suggested(drawn):
    columns = suggest_columns(drawn(two_heads), TABLES["heads"])
    found = {column.theirs: column.ours for column in columns}
    assert found["ID"] == "id"
    assert found["ARC_DEG"] == "arc_deg"
    assert suggest_columns(drawn(two_heads, insunits=0), TABLES["heads"], "HEADS", "ft")


# Bombs


def test_a_block_that_holds_itself_is_refused(drawn):
    def draw(document, space):
        document.blocks.new("A").add_blockref("B", (0, 0))
        document.blocks.new("B").add_blockref("A", (0, 0))
        space.add_blockref("A", (EAST, NORTH))

    with pytest.raises(UserError, match="block 'A' holds itself"):
        read(drawn(draw))


def nest(document, space, depth, copies):
    document.blocks.new("B0").add_point((0, 0))
    for level in range(1, depth + 1):
        block = document.blocks.new(f"B{level}")
        for number in range(copies):
            block.add_blockref(f"B{level - 1}", (number, 0))
    space.add_blockref(f"B{depth}", (EAST, NORTH))


def test_blocks_nested_too_deep_are_refused(drawn):
    assert len(read(drawn(lambda d, s: nest(d, s, MAX_DEPTH - 1, 1))).rows) == 1
    with pytest.raises(UserError, match=f"more than {MAX_DEPTH} deep"):
        read(drawn(lambda d, s: nest(d, s, MAX_DEPTH, 1)))


def test_blocks_that_multiply_are_refused_before_they_are_opened(drawn):
    with pytest.raises(UserError, match="comes to 10,000,000 things"):
        read(drawn(lambda d, s: nest(d, s, 7, 10)))


def test_a_giant_grid_is_refused(drawn):
    def draw(document, space):
        head_block(document)
        insert = add_head(space, (EAST, NORTH))
        insert.dxf.row_count, insert.dxf.column_count = 32_000, 32_000
        insert.dxf.row_spacing, insert.dxf.column_spacing = 1.0, 1.0

    with pytest.raises(UserError, match=f"1,024,000,000 times in one grid; up to {MAX_GRID:,}"):
        read(drawn(draw))


def test_a_huge_file_is_refused_unread(tmp_path):
    path = tmp_path / "huge.dxf"
    with path.open("wb") as file:
        file.truncate(MAX_DRAWING_BYTES + 1)
    with pytest.raises(UserError, match="drawings up to 63 MB are read"):
        read(path)


@pytest.mark.parametrize(
    "content", [b" ", b"\x00" * 100, b"AutoCAD Binary DXF\r\n\x1a\x00", b"0\n"]
)
def test_what_is_no_drawing_is_refused(tmp_path, content):
    path = tmp_path / "noise.dxf"
    path.write_bytes(content)
    with pytest.raises(UserError, match=r"noise\.dxf (cannot be read as a drawing|holds nothing)"):
        read(path)


# Old, binary and broken files


@pytest.mark.parametrize("version", ["R12", "R2000", "R2004", "R2007", "R2010", "R2013", "R2018"])
def test_every_version_reads_alike(drawn, version):
    survey = read(drawn(two_heads, version=version), drawing_unit="m")
    assert list(survey.rows.index) == ["H1", "H2"]
    assert spots(survey)[0] == pytest.approx((EAST + 1, NORTH))


def test_a_binary_drawing_reads_alike(drawn, tmp_path):
    document = ezdxf.readfile(drawn(two_heads))
    document.saveas(tmp_path / "binary.dxf", fmt="bin")
    assert spots(read(tmp_path / "binary.dxf")) == spots(read(drawn(two_heads)))


def test_a_broken_drawing_is_recovered_and_told(drawn):
    path = drawn(two_heads)
    text = path.read_text()
    path.write_text(
        text.replace("  0\nSECTION\n  2\nOBJECTS", "  0\nENDSEC\n  0\nSECTION\n  2\nOBJECTS")
    )
    survey = read(path)
    assert len(survey.rows) == 2
    assert survey.findings[0].code == "drawing-recovered"


def test_a_broken_drawing_that_lost_its_header_does_not_get_a_unit(drawn):
    text = (path := drawn(two_heads)).read_text()
    start, end = text.index("  9\n$INSUNITS"), text.index("  9\n$HYPERLINKBASE")
    path.write_text(text[:start] + text[end:])
    with pytest.raises(UserError, match="does not say the unit"):
        read(path)


def test_names_in_escapes_and_broken_bytes_are_text(drawn):
    def draw(document, space):
        head_block(document, "ID", "LABEL")
        add_head(space, (EAST, NORTH), layer="L", ID="H1", LABEL="\\U+039B 1")

    path = drawn(draw, version="R2000")
    survey = read(path)
    assert survey.rows.loc["H1", "label"] == "Λ 1"
    path.write_bytes(path.read_bytes().replace(b"\\U+039B", b"\x81"))
    read(path).rows.loc["H1", "label"].encode()
