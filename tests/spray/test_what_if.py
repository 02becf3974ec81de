"""What a change of heads does: closed forms, and the whole map laid anew."""

from __future__ import annotations

from dataclasses import astuple

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from nightwater.spray.grid import TurfGrid
from nightwater.spray.grid_part import part_of_grid
from nightwater.spray.head_patterns import HeadPatterns
from nightwater.spray.matrix import wetting_matrix
from nightwater.spray.profile import named_profile
from nightwater.spray.what_if import (
    MOST_FACTOR,
    Scene,
    changed_heads,
    equal_shortage_factor,
    lacking_l,
    what_if,
)

SIDE = 40
STILL = {"pressure_kpa": 400.0, "trajectory_deg": 25.0, "height_m": 0.1}


def square(side: int = SIDE) -> TurfGrid:
    row, column = (part.ravel() for part in np.indices((side, side)))
    turf = np.arange(side * side, dtype=np.int32).reshape(side, side)
    area = np.zeros(side * side, dtype=np.int32)
    return TurfGrid(
        0.0, float(side), 1.0, side, side, turf,
        row.astype(np.int32), column.astype(np.int32), area, ("A",),
    )  # fmt: skip


def heads(places: dict[str, tuple[float, float]], **changes: float) -> HeadPatterns:
    count = len(places)

    def column(name: str, usual: float) -> np.ndarray:
        return np.full(count, changes.get(name, usual))

    return HeadPatterns(
        ids=np.array(list(places), dtype=object),
        x_m=np.array([x for x, _ in places.values()]),
        y_m=np.array([y for _, y in places.values()]),
        flow_l_s=column("flow_l_s", 0.8),
        radius_m=column("radius_m", 8.0),
        arc_deg=column("arc_deg", 360.0),
        bearing_deg=column("bearing_deg", 0.0),
        profile=np.zeros(count, dtype=np.int64),
        tilt_deg=column("tilt_deg", 0.0),
        tilt_towards_deg=column("tilt_towards_deg", 0.0),
        profiles=(named_profile("triangle"),),
        **{name: np.full(count, value) for name, value in STILL.items()},
    )


def scene_of(grid: TurfGrid, patterns: HeadPatterns, run_min: float, need_mm: float) -> Scene:
    rate = np.asarray(wetting_matrix(grid, patterns).rate_mm_min.sum(axis=1)).ravel()
    water = float(patterns.flow_l_s.sum()) * 60 * run_min
    return Scene(grid, np.full(len(grid), need_mm), rate * run_min, rate, water)


def minutes(patterns: HeadPatterns, run_min: float) -> pd.Series:
    return pd.Series(run_min, index=patterns.ids)


PLACES = {"A": (12.0, 12.0), "B": (28.0, 12.0), "C": (12.0, 28.0), "D": (28.0, 28.0)}


class TestShortage:
    def test_by_hand(self) -> None:
        assert lacking_l([1.0, 4.0, 2.0], [3.0, 3.0, np.nan], 4.0) == pytest.approx(8.0)

    def test_factor_by_hand(self) -> None:
        # 2f and 4f of 4 wanted: at f = 1.25 the first lacks 1.5 and the second nothing.
        found = equal_shortage_factor(np.array([2.0, 4.0]), np.array([4.0, 4.0]), 1.5)
        assert found == pytest.approx(1.25)

    def test_no_factor_helps_where_nothing_falls(self) -> None:
        dry = equal_shortage_factor(np.array([0.0, 4.0]), np.array([4.0, 4.0]), 1.0)
        assert np.isnan(dry)

    def test_nothing_known_has_no_factor(self) -> None:
        assert np.isnan(equal_shortage_factor(np.ones(2), np.full(2, np.nan), 0.0))

    @given(
        st.lists(st.floats(0.5, 9.0), min_size=1, max_size=9),
        st.floats(0.2, 3.0),
    )
    @hypothesis_settings(max_examples=40, deadline=None)
    def test_the_factor_gives_the_shortage(self, depths: list[float], factor: float) -> None:
        depth, need = np.array(depths), np.full(len(depths), 10.0)
        lack = np.maximum(need - factor * depth, 0.0).sum()
        found = equal_shortage_factor(depth, need, lack)
        assert found <= MOST_FACTOR
        assert np.maximum(need - found * depth, 0.0).sum() == pytest.approx(lack, abs=1e-5)


class TestChanged:
    def test_alike_is_not_changed(self) -> None:
        assert changed_heads(heads(PLACES), heads(PLACES)) == ()

    def test_another_throw_a_head_less_and_one_more(self) -> None:
        before, after = heads(PLACES), heads({**PLACES, "E": (20.0, 20.0)})
        assert changed_heads(before, after) == ("E",)
        less = heads({name: PLACES[name] for name in "ABC"})
        assert changed_heads(before, less) == ("D",)
        after.radius_m[1] = 9.0
        assert set(changed_heads(before, after)) == {"B", "E"}


class TestWhatIf:
    def test_it_is_the_map_laid_anew(self) -> None:
        grid, before, after = square(), heads(PLACES), heads(PLACES)
        after.radius_m[0], after.tilt_deg[2], after.x_m[3] = 10.0, 8.0, 25.0
        scene = scene_of(grid, before, 30.0, 6.0)
        run = (minutes(before, 30.0), minutes(after, 30.0))
        found = what_if(scene, before, after, run)
        anew = scene_of(grid, after, 30.0, 6.0)
        assert found.depth_after_mm == pytest.approx(anew.depth_mm, abs=1e-5)  # single precision
        assert found.after.rate_mm_h == pytest.approx(anew.rate_mm_min.mean() * 60)
        assert found.after.water_l == pytest.approx(anew.water_l)
        assert set(found.changed) == {"A", "C", "D"}

    def test_no_change_changes_no_number(self) -> None:
        grid, patterns = square(), heads(PLACES)
        scene = scene_of(grid, patterns, 30.0, 6.0)
        run = (minutes(patterns, 30.0), minutes(patterns, 30.0))
        found = what_if(scene, patterns, patterns, run)
        assert astuple(found.before) == pytest.approx(astuple(found.after), rel=1e-6)
        assert found.before.equal_water_l == pytest.approx(scene.water_l, rel=1e-6)

    def test_a_new_head_adds_its_water(self) -> None:
        grid, before = square(), heads(PLACES)
        after = heads({**PLACES, "E": (20.0, 20.0)})
        scene = scene_of(grid, before, 30.0, 6.0)
        run = (minutes(before, 30.0), minutes(after, 30.0))
        found = what_if(scene, before, after, run)
        added = (found.depth_after_mm - found.depth_before_mm).sum()
        assert added == pytest.approx(0.8 * 60 * 30, rel=1e-6)
        assert found.after.lacking_l < found.before.lacking_l
        assert found.after.adequacy >= found.before.adequacy

    def test_levelling_a_head_saves_water_at_equal_shortage(self) -> None:
        places = {f"{i}{j}": (8.0 * i, 8.0 * j) for i in range(6) for j in range(6)}
        before, after = heads(places), heads(places)
        before.tilt_deg[14] = 25.0
        grid = square()
        scene = scene_of(grid, before, 30.0, 18.0)
        run = (minutes(before, 30.0), minutes(after, 30.0))
        found = what_if(scene, before, after, run)
        assert found.after.equal_water_l < found.before.equal_water_l
        assert found.after.du_lq > found.before.du_lq

    def test_longer_minutes_count_too(self) -> None:
        grid, patterns = square(), heads(PLACES)
        scene = scene_of(grid, patterns, 30.0, 6.0)
        later = minutes(patterns, 30.0)
        later["A"] = 60.0
        found = what_if(scene, patterns, patterns, (minutes(patterns, 30.0), later))
        assert found.after.water_l - found.before.water_l == pytest.approx(0.8 * 60 * 30)

    @pytest.mark.parametrize("turns", [1, 2, 3])
    def test_a_turned_course_has_the_same_figures(self, turns: int) -> None:
        def turned(patterns: HeadPatterns) -> HeadPatterns:
            x, y = patterns.x_m - 20.0, patterns.y_m - 20.0
            for _ in range(turns):
                x, y = y, -x  # a quarter clockwise
            patterns.x_m[:], patterns.y_m[:] = x + 20.0, y + 20.0
            patterns.bearing_deg[:] = (patterns.bearing_deg + 90.0 * turns) % 360.0
            return patterns

        def result(turn: bool) -> tuple[float, ...]:
            before = heads(PLACES, arc_deg=180.0, bearing_deg=40.0)
            after = heads(PLACES, arc_deg=180.0, bearing_deg=70.0)
            if turn:
                before, after = turned(before), turned(after)
            scene = scene_of(square(), before, 30.0, 6.0)
            run = (minutes(before, 30.0), minutes(after, 30.0))
            one = what_if(scene, before, after, run).after
            return (one.rate_mm_h, one.du_lq, one.cu, one.lacking_l, one.adequacy)

        assert result(True) == pytest.approx(result(False), rel=1e-6)


class TestPart:
    def test_it_keeps_places_and_is_no_larger_than_needed(self) -> None:
        grid = square()
        inside = (grid.x_m > 10) & (grid.x_m < 15) & (grid.y_m > 20) & (grid.y_m < 23)
        part = part_of_grid(grid, inside)
        assert (part.rows, part.columns, len(part)) == (3, 5, 15)
        assert part.x_m == pytest.approx(grid.x_m[inside])
        assert part.y_m == pytest.approx(grid.y_m[inside])
        assert part.cell_at(12.5, 21.5) == int(np.flatnonzero(part.x_m == 12.5)[1])

    def test_rates_on_it_are_those_of_the_whole(self) -> None:
        grid, patterns = square(), heads(PLACES)
        inside = grid.x_m < 17.0
        whole = wetting_matrix(grid, patterns).rate_mm_min.toarray()[inside]
        part = wetting_matrix(part_of_grid(grid, inside), patterns).rate_mm_min.toarray()
        assert part == pytest.approx(whole, abs=1e-12)

    def test_none_of_it(self) -> None:
        part = part_of_grid(square(), np.zeros(SIDE * SIDE, dtype=bool))
        assert (part.rows, part.columns, len(part)) == (0, 0, 0)
