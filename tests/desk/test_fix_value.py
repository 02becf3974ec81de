"""What a repair saves: by sense, against a whole refit, and in the ranking of the list."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from scipy import sparse

from nightwater.desk.dry_spots import dry_spots
from nightwater.desk.fixing import NEW_HEAD, Fix, FixList, fix_list, with_head_like
from nightwater.desk.tonight_water import TonightWater, watering
from nightwater.ground.settings import FixRules, MinuteRules
from nightwater.night.fitted_minutes import FitRequest, fit_minutes
from nightwater.night.fix_value import Change, FixValue, Watering, fix_value, with_change

FIXES = FixRules(least_lack_share=0.1, least_m2=5.0)
RULES = MinuteRules()
BROKEN = {"H33": {"condition": "broken"}}


def change_of(water: TonightWater, head: str) -> Change:
    one = next(m for m in dry_spots(water, FIXES).mended if head in m.heads)
    place = one.heads.index(head)
    names = list(watering(water).stations.index)
    added = sparse.csc_array(one.added_mm_min[:, [place]])
    return Change(names.index(f"S{head[1:]}"), added, float(one.added_l_s[place]))


def planned(water: TonightWater, rules: MinuteRules = RULES) -> Watering:
    """The course at the minutes that are the best for it as it is, as a planned night has them."""
    one = watering(water)
    request = FitRequest(one.grid, one.by_station, one.need_mm, one.kinds, one.stations)
    best = fit_minutes(request, rules, 1e-4).stations["exact_min"]
    return replace(one, stations=one.stations.assign(run_min=best))


def value_of(water: TonightWater, head: str) -> FixValue:
    return fix_value(watering(water), change_of(water, head), RULES)


def listed(water: TonightWater) -> FixList:
    course: Any = SimpleNamespace(settings=SimpleNamespace(fixes=FIXES, minutes=RULES))
    return fix_list(course, water, dry_spots(water, FIXES))


class TestFixValue:
    def test_a_sound_head_in_place_of_a_broken_one_saves_water(self, lattice: Any) -> None:
        value = value_of(lattice(BROKEN), "H33")
        assert value.saved_l > 0
        assert value.lacking_after_l < value.lacking_before_l
        assert value.saved_l < value.before_l

    @pytest.mark.parametrize(
        "planted",
        [
            {"condition": "broken"},
            {"nozzle": "S"},
            {"tilt_deg": 20.0, "tilt_towards_deg": 45.0},
            {"condition": "low"},
        ],
    )
    def test_the_stations_around_tell_what_the_whole_course_tells(
        self, lattice: Any, planted: dict[str, Any]
    ) -> None:
        water = lattice({"H33": planted}, need_mm=4.0)
        change = change_of(water, "H33")
        dear = MinuteRules(shortage_worth={"fairway": 20.0})
        for rules, close in ((dear, {"rel": 0.1}), (RULES, {"abs": 150.0})):  # of 13,500 L
            course = planned(water, rules)
            near, whole = (fix_value(course, change, rules, whole=every) for every in (False, True))
            assert near.stations < whole.stations == 49
            assert near.saved_l == pytest.approx(whole.saved_l, **close)

    def test_a_change_of_nothing_saves_nothing(self, lattice: Any) -> None:
        water = lattice(BROKEN)
        whole = watering(water)
        nothing = sparse.csc_array(([1e-12] * 3, ([0, 1, 2], [0, 0, 0])), (len(whole.grid), 1))
        value = fix_value(whole, Change(10, nothing, 0.0), RULES)
        assert abs(value.saved_l) < 2e-3 * value.before_l

    def test_the_worse_the_head_the_more_its_repair_saves(self, lattice: Any) -> None:
        worn, low, broken = (
            value_of(lattice({"H33": {"condition": state}}), "H33").saved_l
            for state in ("worn", "low", "broken")
        )
        assert worn < low < broken

    def test_the_course_with_the_repair_has_its_water_and_flow(self, lattice: Any) -> None:
        water = lattice({"H33": {"nozzle": "S"}})
        before, change = watering(water), change_of(water, "H33")
        after = with_change(before, change)
        added = (after.by_station.sum() - before.by_station.sum()) * before.grid.cell_m2
        assert added == pytest.approx(0.65 * 60, rel=1e-6)
        assert after.stations["flow_l_s"].iloc[change.station] == pytest.approx(0.9)
        assert after.by_station.min() >= 0

    def test_where_the_head_stands_does_not_matter(self, lattice: Any) -> None:
        # The lattice is its own mirror image, so mirrored heads are worth the same.
        one = value_of(lattice({"H23": {"condition": "broken"}}), "H23").saved_l
        other = value_of(lattice({"H43": {"condition": "broken"}}), "H43").saved_l
        assert one == pytest.approx(other, rel=0.02)


class TestList:
    def test_the_worst_head_comes_first(self, lattice: Any) -> None:
        water = lattice(
            {
                "H22": {"condition": "worn"},
                "H33": {"condition": "broken"},
                "H44": {"tilt_deg": 5.0, "tilt_towards_deg": 0.0},
            }
        )
        found = listed(water)
        assert found.fixes[0].subject == "heads:H33"
        assert found.fixes[0].cause == "broken-head"
        assert {fix.subject for fix in found.fixes} == {"heads:H22", "heads:H33", "heads:H44"}
        saved = [fix.saved_l_night for fix in found.fixes]
        assert saved == sorted(saved, reverse=True)
        assert found.left_out == 0

    def test_season_and_hours_follow_the_settings(self, lattice: Any) -> None:
        fix = listed(lattice(BROKEN)).fixes[0]
        assert fix.saved_m3_season == pytest.approx(fix.saved_l_night * 100 / 1000)
        assert fix.hours == FIXES.hours["broken-head"]
        assert fix.saved_m3_hour == pytest.approx(fix.saved_m3_season / fix.hours)
        assert fix.area == "F"
        assert fix.place_m == (36.0, 36.0)

    def test_a_gap_is_offered_a_head_in_its_middle(self, lattice: Any) -> None:
        water = lattice(without=("H22", "H23", "H32", "H33"))
        gaps = [fix for fix in listed(water).fixes if fix.cause == "pattern-gap"]
        assert gaps
        middle = min(np.hypot(fix.place_m[0] - 30, fix.place_m[1] - 30) for fix in gaps)
        assert middle < 2.0
        assert all(fix.relieved_l > 0 for fix in gaps)

    def test_heads_that_do_not_run_have_no_saving(self, lattice: Any) -> None:
        water = lattice(BROKEN, run_min=0.0)
        broken: list[Fix] = [f for f in listed(water).fixes if f.cause == "broken-head"]
        assert len(broken) == 1
        assert np.isnan(broken[0].saved_l_night)

    def test_a_new_head_is_like_the_other_and_sound(self, lattice: Any) -> None:
        changes = {"H33": {"condition": "low", "measured_radius_m": 7.0, "tilt_deg": 3.0}}
        ground = with_head_like(lattice(changes).ground, "H33", (5.0, 6.0), NEW_HEAD)
        row = ground.heads.loc[NEW_HEAD]
        assert (row["station"], row["nozzle"], row["condition"]) == ("S33", "N", "good")
        assert np.isnan(row["measured_radius_m"])
        assert (row["geometry"].x, row["geometry"].y) == (5.0, 6.0)
        assert len(ground.heads) == 50
