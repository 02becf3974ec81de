"""Each rule: silent on a sound record, telling when its one thing is spoiled."""

from __future__ import annotations

import dataclasses

import pandas as pd
import pytest
from shapely.geometry import LineString, Point, Polygon, box

from nightwater.findings import Severity
from nightwater.ground.checks import RULES, check_ground
from nightwater.ground.record import ground_from


def only(found, code):
    """The one finding of a code, and nothing else was found."""
    assert list(found) == [code], found
    (finding,) = found[code]
    assert finding.fix.endswith((".", "?"))
    return finding


def test_a_sound_record_is_silent(make, small, codes):
    assert codes(make(small)) == {}


def test_nothing_surveyed_is_silent():
    assert check_ground(ground_from("EPSG:32612", {})) == []


def test_areas_alone_are_silent_about_heads(make, small, codes):
    """A course surveyed only as areas and holes is told nothing about missing heads."""
    del small["heads"], small["stations"], small["nozzles"], small["controllers"]
    assert codes(make(small)) == {}


def test_every_rule_stands_once():
    assert len(set(RULES)) == len(RULES)


class TestHeads:
    def test_without_station(self, make, small, codes):
        small["heads"]["R1"]["station"] = None
        found = codes(make(small))
        assert found["head-without-station"][0].subject == "heads:R1"
        assert found["station-without-heads"][0].subject == "stations:S2"
        assert len(found) == 2

    def test_in_no_area(self, make, small, codes):
        small["heads"]["R1"]["geometry"] = Point(60, 70)
        found = codes(make(small))
        assert found["head-in-no-area"][0].subject == "heads:R1"
        assert found["head-in-no-area"][0].severity is Severity.WARNING

    def test_beside_an_area(self, make, small, codes):
        small["heads"]["R1"]["geometry"] = Point(60, 45)
        found = codes(make(small))
        finding = only(found, "head-beside-area")
        assert finding.severity is Severity.NOTE
        assert "rough" in finding.message

    def test_declared_to_water_sand(self, make, small, codes):
        small["heads"]["R1"]["area"] = "bunker"
        finding = codes(make(small))["head-on-unwatered-ground"][0]
        assert "bunker ground" in finding.message

    def test_without_nozzle(self, make, small, codes):
        small["heads"]["R1"]["nozzle"] = None
        finding = only(codes(make(small)), "head-without-flow")
        assert finding.severity is Severity.ERROR
        assert "no nozzle" in finding.message

    def test_measured_flow_stands_in_for_a_nozzle(self, make, small, codes):
        small["heads"]["R1"] |= {"nozzle": None, "measured_flow_l_s": 1.7}
        assert codes(make(small)) == {}

    def test_nozzle_without_flow(self, make, small, codes):
        small["nozzles"]["N"]["flow_l_s"] = None
        found = codes(make(small))
        assert len(found["head-without-flow"]) == 6
        assert "a nozzle without flow" in found["head-without-flow"][0].message
        assert found["value-missing"][0].subject == "nozzles:N"

    @pytest.mark.parametrize("column", ["spacing_m", "row_m"])
    def test_without_spacing(self, make, small, codes, column):
        small["heads"]["R1"][column] = None
        assert only(codes(make(small)), "head-without-spacing").subject == "heads:R1"

    def test_rate_that_no_sprinkler_has(self, make, small, codes):
        """1.7 L/s on 15 m² is 408 mm/h."""
        small["heads"]["R1"] |= {"spacing_m": 5.0, "row_m": 3.0, "geometry": Point(60, 38)}
        finding = codes(make(small))["rate-implausible"][0]
        assert "408.0 mm/h" in finding.message
        assert "15 m²" in finding.message

    def test_an_unstated_arc_counts_as_a_full_circle(self, make, small, codes):
        small["heads"]["R1"]["arc_deg"] = None
        assert codes(make(small)) == {}

    @pytest.mark.parametrize(
        ("flow", "told"), [(1.9, False), (1.5, False), (2.0, True), (1.4, True)]
    )
    def test_measured_flow_far_from_the_nozzles(self, make, small, codes, flow, told):
        small["heads"]["R1"]["measured_flow_l_s"] = flow
        found = codes(make(small))
        assert ("measured-flow-differs" in found) is told

    def test_arc_without_bearing(self, make, small, codes):
        small["heads"]["R1"]["arc_deg"] = 180.0
        assert only(codes(make(small)), "arc-without-bearing").severity is Severity.NOTE

    def test_pressure_moves_the_flow_a_station_is_checked_with(self, make, small, codes):
        """At a quarter of the pressure half the flow: the listed one no longer fits."""
        small["heads"]["R1"]["pressure_kpa"] = 120.0
        finding = only(codes(make(small)), "station-flow-differs")
        assert "0.85 L/s" in finding.message
        assert "-50%" in finding.message


class TestStations:
    def test_without_heads(self, make, small, codes):
        small["stations"]["S9"] = {"label": "spare", "controller": "A", "output": 9}
        finding = only(codes(make(small)), "station-without-heads")
        assert finding.subject == "stations:S9"
        assert "spare" in finding.message

    def test_head_count(self, make, small, codes):
        small["stations"]["S1"]["heads_listed"] = 3
        finding = only(codes(make(small)), "station-head-count")
        assert "lists 3 heads" in finding.message
        assert "has 2: F1, F2" in finding.message

    @pytest.mark.parametrize(
        ("flow", "told"), [(3.7, False), (3.1, False), (3.9, True), (2.9, True)]
    )
    def test_flow(self, make, small, codes, flow, told):
        small["stations"]["S1"]["flow_listed_l_s"] = flow
        assert ("station-flow-differs" in codes(make(small))) is told

    def test_flow_of_a_station_with_an_unknown_head_is_not_judged(self, make, small, codes):
        small["heads"]["F1"]["nozzle"] = None
        assert list(codes(make(small))) == ["head-without-flow"]

    def test_mixed_kinds(self, make, small, codes):
        small["heads"]["F2"]["geometry"] = Point(70, 20)
        finding = only(codes(make(small)), "station-mixes-kinds")
        assert "fairway and rough" in finding.message

    def test_mixed_nozzles(self, make, small, codes):
        small["heads"]["F2"]["nozzle"] = "small"
        found = codes(make(small))
        assert "N and small" in found["station-mixes-nozzles"][0].message

    def test_mixed_arcs(self, make, small, codes):
        small["heads"]["F2"] |= {"arc_deg": 180.0, "bearing_deg": 0.0}
        found = codes(make(small))
        assert found["station-mixes-arcs"][0].severity is Severity.NOTE

    @pytest.mark.parametrize(("x", "told"), [(102.0, False), (106.0, True)])
    def test_pair_far_apart(self, make, small, codes, x, told):
        """2.2 times the spacing of 20 m: 44 m."""
        small["heads"]["F2"]["geometry"] = Point(x, 0)
        found = codes(make(small))
        assert ("station-heads-far-apart" in found) is told

    def test_a_long_row_is_not_far_apart(self, make, small, codes):
        """Each head of a zone has a neighbour, though its ends are far from each other."""
        for number in range(3, 8):
            row = dict(small["heads"]["F1"])
            row |= {"geometry": Point(40 + 20 * number, 0), "label": f"F{number}"}
            small["heads"][f"F{number}"] = row
        small["stations"]["S1"] |= {"heads_listed": 7, "flow_listed_l_s": 11.9}
        assert codes(make(small)) == {}

    def test_output_twice(self, make, small, codes):
        small["stations"]["S2"]["output"] = 1
        finding = only(codes(make(small)), "output-twice")
        assert "S1, S2" in finding.message

    def test_same_output_of_two_paths_is_sound(self, make, small, codes):
        small["controllers"]["B"] = {"label": "Path B"}
        small["stations"]["S2"] |= {"output": 1, "controller": "B"}
        assert codes(make(small)) == {}

    def test_without_controller(self, make, small, codes):
        small["stations"]["S2"]["controller"] = None
        assert only(codes(make(small)), "station-without-controller").severity is Severity.NOTE


class TestAreasAndHoles:
    def test_overlap_of_one_kind(self, make, small, codes):
        small["areas"]["again"] = {"kind": "fairway", "geometry": box(40, -15, 100, 15)}
        small["heads"]["X"] = small["heads"]["F1"] | {"geometry": Point(90, 10), "label": "X"}
        found = codes(make(small))
        finding = found["areas-overlap"][0]
        assert finding.subject == "areas:fairway"
        assert "1,800 m² (100% of the smaller)" in finding.message

    def test_a_sliver_along_an_edge_is_no_overlap(self, make, small, codes):
        small["areas"]["next"] = {"kind": "rough", "geometry": box(259.5, -40, 300, 40)}
        assert "areas-overlap" not in codes(make(small))

    def test_a_green_inside_a_fairway_is_no_overlap(self, make, small, codes):
        assert "areas-overlap" not in codes(make(small))

    def test_turf_without_heads(self, make, small, codes):
        small["areas"]["lawn"] = {"kind": "grounds", "geometry": box(0, 50, 10, 60)}
        found = codes(make(small))
        assert "areas:lawn" in {f.subject for f in found["area-without-heads"]}

    def test_wetted_ground_declared(self, make, small, codes):
        cell = 2 * 20.0 * 17.3
        small["areas"]["fairway"]["wetted_m2"] = cell * 1.05
        assert codes(make(small)) == {}
        small["areas"]["fairway"]["wetted_m2"] = cell * 1.2
        finding = only(codes(make(small)), "wetted-area-differs")
        assert "692 m²" in finding.message

    def test_half_circles_answer_for_half_the_ground(self, make, small, codes):
        small["areas"]["green"]["wetted_m2"] = 2 * 20.0 * 17.3 / 2
        assert codes(make(small)) == {}

    def test_fairway_of_no_hole(self, make, small, codes):
        small["areas"]["lost"] = {"kind": "fairway", "geometry": box(0, -330, 50, -300)}
        found = codes(make(small))
        assert [f.subject for f in found["area-without-hole"]] == ["areas:lost"]

    def test_spare_green_is_told_only_while_a_hole_lacks_one(self, make, small, codes):
        small["areas"]["practice"] = {"kind": "green", "geometry": box(260, 60, 280, 80)}
        assert "area-without-hole" not in codes(make(small))
        del small["areas"]["green 4"]
        found = codes(make(small))
        assert [f.subject for f in found["area-without-hole"]] == ["areas:practice"]
        assert [f.subject for f in found["hole-without-green"]] == ["holes:H4"]

    def test_hole_without_tee(self, make, small, codes):
        del small["areas"]["tee 4"]
        assert only(codes(make(small)), "hole-without-tee").subject == "holes:H4"

    def test_number_twice_and_left_out(self, make, small):
        small["holes"]["H9"]["number"] = 8
        found = {finding.code: finding for finding in check_ground(make(small))}
        assert "H8, H9" in found["hole-number-twice"].message
        assert found["hole-number-left-out"].subject == "holes:9"

    def test_ten_holes_lack_the_rest_of_eighteen(self, make, small):
        small["holes"]["H10"] = {"number": 10, "geometry": LineString([(0, 9000), (9, 9000)])}
        found = [f.subject for f in check_ground(make(small)) if f.code == "hole-number-left-out"]
        assert found == [f"holes:{number}" for number in range(11, 19)]

    def test_line_drawn_backwards(self, make, small, codes):
        small["holes"]["H4"]["geometry"] = LineString([(200, 480), (0, 480)])
        assert only(codes(make(small)), "hole-line-backwards").subject == "holes:H4"

    def test_hole_without_number(self, make, small, codes):
        small["holes"]["H9"]["number"] = None
        assert only(codes(make(small)), "hole-without-number").subject == "holes:H9"

    def test_area_without_kind(self, make, small, codes):
        small["areas"]["fairway"]["kind"] = None
        finding = codes(make(small))["value-missing"][0]
        assert finding.subject == "areas:fairway"
        assert finding.severity is Severity.ERROR


class TestValues:
    def test_out_of_bounds(self, make, small, codes):
        small["areas"]["fairway"]["root_depth_mm"] = 5000.0
        finding = only(codes(make(small)), "value-out-of-bounds")
        assert "5000 mm, outside 20 to 1500 mm" in finding.message

    def test_whole_numbers_have_bounds_too(self, make, small, codes):
        small["stations"]["S1"]["max_run_min"] = 900
        assert "900 min" in only(codes(make(small)), "value-out-of-bounds").message

    def test_unknown_link_with_the_nearest_name(self, make, small, codes):
        small["heads"]["R1"]["nozzle"] = "smal"
        found = codes(make(small))
        finding = found["unknown-link"][0]
        assert finding.severity is Severity.ERROR
        assert "Did you mean 'small'?" in finding.fix

    def test_label_twice_whatever_its_case(self, make, small, codes):
        small["heads"]["R1"]["label"] = "07-R-01"
        small["heads"]["R2"]["label"] = " 07-r-01"
        finding = only(codes(make(small)), "label-twice")
        assert "R1, R2" in finding.message

    def test_id_twice_stops_the_rest(self, make, small):
        ground = make(small)
        twice = pd.concat([ground.heads, ground.heads.loc[["R1"]]])
        found = check_ground(dataclasses.replace(ground, heads=twice))
        assert [(f.code, f.subject) for f in found] == [("id-twice", "heads:R1")]
        assert "2 times" in found[0].message

    def test_without_place(self, make, small, codes):
        small["heads"]["R1"]["geometry"] = None
        found = codes(make(small))
        assert found["without-geometry"][0].subject == "heads:R1"

    def test_broken_outline(self, make, small, codes):
        bow = Polygon([(40, -15), (250, 15), (250, -15), (40, 15)])
        small["areas"]["fairway"]["geometry"] = bow
        found = codes(make(small))
        assert found["broken-outline"][0].subject == "areas:fairway"

    def test_far_from_course(self, make, small, codes):
        small["heads"]["R1"]["geometry"] = Point(413650, 4339450)
        found = codes(make(small))
        finding = found["far-from-course"][0]
        assert finding.subject == "heads:R1"
        assert "km" in finding.message


class TestSpacing:
    @pytest.mark.parametrize(
        ("x", "told"), [(74.0, False), (72.0, True), (89.0, False), (91.0, True)]
    )
    def test_measured_against_declared(self, make, small, codes, x, told):
        """Declared 20 m; between 0.65 and 1.5 of it is what rows and curves do."""
        small["heads"]["F2"]["geometry"] = Point(x, 0)
        found = codes(make(small))
        assert ("spacing-differs" in found) is told
        if told:
            assert {f.subject for f in found["spacing-differs"]} == {"heads:F1", "heads:F2"}

    def test_a_head_alone_in_its_area_has_no_neighbour(self, make, small, codes):
        del small["heads"]["R2"], small["stations"]["S3"]
        assert codes(make(small)) == {}

    def test_another_nozzle_is_another_pattern(self, make, small, codes):
        small["heads"]["R2"] |= {"geometry": Point(64, 30), "nozzle": "small", "spacing_m": 15.0}
        small["stations"]["S3"]["flow_listed_l_s"] = 0.9
        assert "spacing-differs" not in codes(make(small))

    def test_spacing_against_throw(self, make, small, codes):
        small["heads"]["R1"] |= {"spacing_m": 36.0, "row_m": 30.0}
        small["heads"]["R1"]["geometry"] = Point(55, 30)
        finding = only(codes(make(small)), "spacing-against-throw")
        assert "36.0 m" in finding.message
        assert "20.0 m" in finding.message

    def test_rows_against_spacing(self, make, small, codes):
        small["heads"]["R1"]["row_m"] = 30.0
        assert "30.0 m apart" in only(codes(make(small)), "row-against-spacing").message

    def test_one_head_surveyed_twice(self, make, small, codes):
        small["heads"]["copy"] = small["heads"]["R1"] | {"label": "copy"}
        small["heads"]["copy"]["geometry"] = Point(60.2, 30.2)
        finding = codes(make(small))["heads-in-one-spot"][0]
        assert finding.subject == "heads:copy"
        assert "0.28 m" in finding.message

    def test_back_to_back_heads_are_two(self, make, small, codes):
        small["heads"]["R1"] |= {"arc_deg": 180.0, "bearing_deg": 0.0}
        small["heads"]["R2"] |= {"arc_deg": 180.0, "bearing_deg": 180.0}
        small["heads"]["R2"]["geometry"] = Point(60.2, 30.2)
        assert "heads-in-one-spot" not in codes(make(small))
