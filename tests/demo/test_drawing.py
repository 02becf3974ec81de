"""The drawing of the invented club, piece by piece."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from nightwater.demo.area_table import area_table, hole_table, wetted_acres
from nightwater.demo.classes import CLAY_HOLES, TURF
from nightwater.demo.control import head_id, head_table, station_table, stations
from nightwater.demo.layout import (
    GROUNDS_AT,
    ROW_M,
    SPACING_M,
    fairway_rows,
    lattice,
    ring,
    tee_boxes,
    zone_heads,
)
from nightwater.demo.mains import mains
from nightwater.demo.network import gauge_table, meter_table, source_table, valve_table
from nightwater.demo.routing import LINES, Line
from nightwater.demo.turf import NATIVE_ACRES, outlines, pond
from nightwater.units import M2_PER_ACRE, M_PER_FT


@pytest.fixture
def straight():
    """A line of play due north, 400 m long."""
    return Line(99, 4, np.column_stack([np.zeros(200), np.linspace(0.0, 400.0, 200)]))


@pytest.fixture(scope="module")
def drawn(spots):
    return outlines(spots)


class TestLine:
    def test_places_along_and_aside(self, straight):
        assert straight.length_m == pytest.approx(400.0)
        assert straight.at(100.0, 10.0)[0] == pytest.approx([10.0, 100.0])
        assert straight.at(100.0, -10.0)[0] == pytest.approx([-10.0, 100.0])

    def test_beyond_its_ends_it_runs_straight_on(self, straight):
        assert straight.at([-5.0, 410.0]) == pytest.approx(np.array([[0, -5], [0, 410]]))

    def test_bearing_is_clockwise_from_north(self, straight):
        assert float(straight.bearing_rad(50.0)) == pytest.approx(0.0)
        east = Line(1, 3, np.column_stack([np.linspace(0, 100, 50), np.zeros(50)]))
        assert np.degrees(float(east.bearing_rad(50.0))) == pytest.approx(90.0)

    def test_part_has_the_length_asked_for(self):
        for line in LINES:
            assert line.part(50.0, 120.0).length == pytest.approx(70.0, rel=1e-3)

    def test_label_has_two_digits(self):
        assert [line.label for line in LINES][:10] == [f"{n:02d}" for n in range(1, 11)]

    def test_curves_begin_and_end_on_their_waypoints(self):
        assert LINES[0].points[0] == pytest.approx([-62.0, 72.0])
        assert LINES[0].points[-1] == pytest.approx([-128.0, 432.0])


class TestLayout:
    def test_lattice_is_a_triangle_everywhere(self):
        spots = lattice((100.0, 50.0), 6, 8, 30.0)
        assert len(spots) == 48
        assert spots.mean(axis=0) == pytest.approx([100.0, 50.0], abs=1e-6)
        away = np.hypot(*(spots[:, None] - spots[None]).transpose(2, 0, 1))
        np.fill_diagonal(away, np.inf)
        assert away.min(axis=1) == pytest.approx([SPACING_M] * 48)
        assert pytest.approx(0.866, abs=5e-4) == ROW_M / SPACING_M

    def test_rows_of_a_fairway_are_shifted_by_half(self):
        left, right = fairway_rows(LINES[0])
        assert np.diff(left) == pytest.approx(SPACING_M)
        assert left[-1] - right[-1] == pytest.approx(SPACING_M / 2)
        assert len(left) - len(right) in (0, 1)

    def test_ring_heads_look_in_and_out(self):
        spots = list(ring("07", np.array([10.0, 20.0]), 0.0))
        assert [spot.letter for spot in spots] == ["G", "A"] * 4
        for inner, outer in zip(spots[::2], spots[1::2], strict=True):
            assert (inner.bearing_deg - outer.bearing_deg) % 360 == 180
            assert np.hypot(inner.x - outer.x, inner.y - outer.y) == pytest.approx(1.2)
            assert np.hypot(inner.x - 10, inner.y - 20) < np.hypot(outer.x - 10, outer.y - 20)
        first = spots[0]
        assert first.x < 10.0
        assert first.y < 20.0

    def test_ring_side_is_the_declared_spacing(self):
        inner = [s for s in ring("07", np.zeros(2), 17.0) if s.letter == "G"]
        side = np.hypot(inner[0].x - inner[1].x, inner[0].y - inner[1].y)
        assert side == pytest.approx(72.3 * M_PER_FT)

    def test_tee_boxes_stand_apart(self):
        for line in LINES:
            boxes = tee_boxes(line)
            assert len(boxes) == (4 if line.number in (12, 16) else 3)
            assert np.diff([along for along, _ in boxes]).min() > 24.0

    def test_zones_hold_110_heads(self):
        assert sum(zone_heads(zone) for zone in range(len(GROUNDS_AT))) == 110


class TestTurf:
    def test_keys_are_unique_and_shapes_sound(self, drawn):
        assert len({outline.key for outline in drawn}) == len(drawn) == 216
        assert all(outline.shape.is_valid and outline.shape.area > 0 for outline in drawn)

    def test_native_ground_is_41_acres_and_dry(self, drawn):
        native = drawn[-1]
        assert native.shape.area / M2_PER_ACRE == pytest.approx(NATIVE_ACRES, rel=0.02)
        turf = shapely.unary_union([o.shape for o in drawn[:-1]])
        assert native.shape.intersection(turf).area < 1.0

    def test_green_lies_on_its_approach_on_its_rough(self, drawn):
        by_key = {outline.key: outline.shape for outline in drawn}
        for line in LINES:
            green, approach = by_key[f"{line.label}-green"], by_key[f"{line.label}-approach"]
            assert approach.contains(green)
            assert by_key[f"{line.label}-fairway"].intersection(green).area == 0.0

    def test_greens_are_kidneys_not_circles(self, drawn):
        for outline in drawn:
            if outline.kind == "green":
                roundness = 4 * np.pi * outline.shape.area / outline.shape.length**2
                assert 0.85 < roundness < 0.985

    def test_fairway_holds_its_rows(self, drawn, spots):
        by_key = {outline.key: outline.shape for outline in drawn}
        own = [spot for spot in spots if spot.letter == "F"]
        assert all(by_key[spot.turf].covers(shapely.Point(spot.x, spot.y)) for spot in own)

    def test_pond_lies_clear_of_the_holes(self, drawn):
        turf = shapely.unary_union([o.shape for o in drawn if o.kind == "rough"])
        assert pond().shape.distance(turf) > 10.0
        assert pond().kind == "water"


class TestTables:
    def test_watered_areas_alone_carry_a_class(self, drawn, spots):
        table = area_table(drawn, spots).set_index("id")
        watered = table["kind"].isin(TURF)
        assert table.loc[watered, "efficiency"].notna().all()
        assert table.loc[~watered, "efficiency"].isna().all()

    def test_uniformity_gives_back_the_efficiency(self):
        for turf in TURF.values():
            assert 0.4 + 0.6 * turf.du_lq == pytest.approx(turf.efficiency)

    def test_clay_lies_on_11_to_15_only_where_the_soil_is_loam(self, drawn, spots):
        table = area_table(drawn, spots)
        clay = table[table["soil"] == "clay_loam"]
        assert set(clay["hole"]) == set(CLAY_HOLES) == {"11", "12", "13", "14", "15"}
        assert set(clay["kind"]) == {"fairway", "rough"}

    def test_slopes_stay_in_their_class(self, drawn, spots):
        table = area_table(drawn, spots)
        for kind, turf in TURF.items():
            low, high = turf.slopes_pct
            assert table["slope_pct"][table["kind"] == kind].between(low, high).all()
        assert table["slope_pct"].max() > 8.0

    def test_factor_other_than_one_has_its_reason(self, drawn, spots):
        table = area_table(drawn, spots)
        changed = table["area_factor"].notna() & (table["area_factor"] != 1.0)
        assert table.loc[changed, "area_factor_reason"].notna().all()

    def test_wetted_ground_is_the_sum_of_cells(self, spots):
        acres = wetted_acres(spots)
        assert acres["07-green"] == pytest.approx(4 * 72.3**2 / 2 / 43_560)
        assert acres["07-tee-1"] == pytest.approx(2 * 50**2 * 0.8660254 / 43_560)

    def test_holes_carry_number_and_par(self):
        table = hole_table()
        assert table["number"].tolist() == list(range(1, 19))
        assert table["par"].sum() == 71

    def test_asset_numbers_follow_the_survey(self, spots):
        heads = head_table(spots, stations(spots))
        assert heads["id"].iloc[0] == head_id(0) == "H0001"
        assert heads["id"].iloc[-1] == "H1396"

    def test_station_flow_is_its_heads(self, spots):
        rows = station_table(spots, stations(spots)).set_index("label")
        assert rows.at["07-F-14", "flow_gpm"] == 27.5
        assert rows.at["07-T-01", "flow_gpm"] == 28.0
        assert rows.at["12-R-01", "flow_gpm"] == 55.0
        assert rows.at["C-Z-01", "flow_gpm"] == 36.0

    def test_pairs_are_neighbours_of_one_row(self, spots):
        for item in stations(spots):
            driven = [spots[row] for row in item.heads]
            assert len({(s.hole, s.letter, s.nozzle, s.arc_deg) for s in driven}) == 1
            if len(driven) == 2:
                gap = np.hypot(driven[0].x - driven[1].x, driven[0].y - driven[1].y)
                assert gap < 1.3 * SPACING_M, driven[0].label

    def test_single_rows(self):
        assert len(source_table()) == len(meter_table()) == 1
        assert gauge_table()["kind"].tolist() == ["weather", "rain", "rain"]

    def test_valve_names_are_unique(self):
        valves = valve_table()
        assert valves["id"].is_unique
        assert {"V-17", "V-18"} <= set(valves["id"])


class TestMains:
    def test_stretches_meet_at_their_ends(self):
        """Every stretch but the pump's touches another with one of its ends."""
        stretches = mains()
        ends = np.concatenate([stretch.points[[0, -1]] for stretch in stretches])
        for number, stretch in enumerate(stretches):
            others = np.delete(ends, [2 * number, 2 * number + 1], axis=0)
            gaps = [np.hypot(*(others - end).T).min() for end in stretch.points[[0, -1]]]
            assert min(gaps) < 0.05, (stretch.kind, stretch.inches)

    def test_no_joint_lies_inside_a_stretch(self):
        stretches = mains()
        for stretch in stretches:
            inner = shapely.points(stretch.points[1:-1]) if len(stretch.points) > 2 else []
            for other in stretches:
                if other is not stretch and len(inner):
                    tips = shapely.points(other.points[[0, -1]])
                    assert shapely.distance(np.array(inner)[:, None], tips[None, :]).min() > 0.5

    def test_bore_shrinks_away_from_the_pumps(self):
        sizes = {"header": {12}, "main": {10, 8, 6}, "loop": {8}, "spur": {4, 3}}
        for stretch in mains():
            assert stretch.inches in sizes[stretch.kind]
