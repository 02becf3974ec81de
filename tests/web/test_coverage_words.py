"""What the Coverage page says of numbers, of courses without turf or water, and of two at once."""

from __future__ import annotations

import math
import re
import threading
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

from nightwater.desk.spot_tonight import Spot
from nightwater.units import UnitSystem
from nightwater.web.coverage.charts import densogram_rows
from nightwater.web.coverage.state import Query
from nightwater.web.coverage.view import (
    balance_words,
    coefficient_words,
    figures_of,
    two_digits,
)


def spot(depth_mm: float, need_mm: float) -> Spot:
    return Spot(0.0, 0.0, "A", 10.0, depth_mm, need_mm, ())


@pytest.mark.parametrize(
    ("value", "told"),
    [(1.0, "1.00"), (2.456, "2.46"), (10.0, "10.00"), (10.1, "over 10"), (math.inf, "over 10")],
)
def test_a_coefficient_beyond_ten_is_told_as_such(value: float, told: str) -> None:
    assert coefficient_words(value) == told


def test_what_is_missing_is_a_dash() -> None:
    assert coefficient_words(math.nan) == two_digits(math.nan) == "–"
    assert two_digits(0.7349) == "0.73"


@pytest.mark.parametrize(
    ("depth_mm", "need_mm", "us", "metric"),
    [
        (8.26, 6.13, "0.09 in over", "2.2 mm over"),  # 0.33 less 0.24; 8.3 less 6.1
        (3.0, 6.0, "0.12 in short", "3.0 mm short"),
        (6.02, 6.0, "as needed", "as needed"),
        (0.0, 25.4, "1.00 in short", "25.4 mm short"),
        (math.nan, 6.0, "", ""),
        (6.0, math.nan, "", ""),
    ],
)
def test_over_and_short_of_the_numbers_as_shown(
    depth_mm: float, need_mm: float, us: str, metric: str
) -> None:
    assert balance_words(spot(depth_mm, need_mm), UnitSystem.US) == us
    assert balance_words(spot(depth_mm, need_mm), UnitSystem.METRIC) == metric


def test_a_row_of_figures_in_words() -> None:
    row = pd.Series(
        {
            "label": "7 green", "kind": "green", "turf_m2": 4046.9, "mean_mm": 5.08, "du_lq": 0.751,
            "du_lh": 0.86, "cu": 0.85, "scheduling_coefficient": 1.333, "window_m": 6.0,
            "window_x_m": 413000.5, "window_y_m": 4339000.0, "need_mm": 4.0, "short_share": 0.25,
            "short_m3": 3.785411784,
        }
    )  # fmt: skip
    told = figures_of("G7", row, UnitSystem.US)
    assert (told.turf, told.mean, told.need) == ("1.00 acre", "0.20 in", "0.16 in")
    assert (told.du_lq, told.du_lh, told.cu) == ("0.75", "0.86", "0.85")
    assert (told.coefficient, told.window) == ("1.33", "20 ft")
    assert told.window_at == "x=413000.5&y=4339000.0"
    assert (told.short, told.lacking) == ("25.0 %", "1,000 gal")


def test_a_row_of_rates_says_nothing_of_need() -> None:
    row = pd.Series(
        {
            "label": "all", "kind": "", "turf_m2": 1e4, "mean_mm_h": 12.7, "du_lq": np.nan,
            "du_lh": np.nan, "cu": np.nan, "scheduling_coefficient": np.nan, "window_m": np.nan,
        }
    )  # fmt: skip
    told = figures_of("course", row, UnitSystem.METRIC)
    assert (told.turf, told.mean) == ("1.00 ha", "12.7 mm/h")
    assert {told.need, told.du_lq, told.coefficient, told.window, told.short} == {"–"}
    assert told.window_at == ""


def test_bars_of_a_densogram_say_where_they_stand() -> None:
    shares = np.zeros(21)
    shares[[0, 6, 7, 12, 13, 20]] = 0.1, 0.1, 0.2, 0.3, 0.2, 0.1
    rows = densogram_rows(shares)
    assert [rows[n]["part"] for n in (0, 6, 7, 12, 13, 20)] == [
        "dry", "dry", "even", "even", "wet", "wet",
    ]  # fmt: skip
    assert (rows[0]["words"], rows[7]["words"]) == ("0 to 0.1", "0.7 to 0.8")
    assert rows[20]["words"] == "2 and more"
    assert sum(row["share"] for row in rows) == pytest.approx(100)


def test_a_spot_needs_both_numbers() -> None:
    assert Query(x=1.0).spot is None
    assert Query(x=1.0, y=2.0).spot == (1.0, 2.0)
    assert Query().address() == "/coverage?"


@pytest.fixture
def bare(served: Any) -> Any:
    """The course after somebody took out all its areas."""
    from nightwater.desk.course import open_course
    from nightwater.desk.editing import save

    with open_course(served.path) as course:
        areas = {"op": "remove", "table": "areas", "ids": list(course.ground.areas.index)}
        save(course, [areas], {}, who="Ines", why="a test", now=served.clock())
    return served


class TestWithoutTurf:
    def test_the_page_says_so_and_has_no_picture(self, bare: Any) -> None:
        pilar = bare.who("Pilar")
        page = pilar.get("/coverage?whole=1")
        assert page.status_code == 200
        assert "there is no turf to water" in page.text
        assert pilar.get("/coverage/picture.json?show=rate").json()["address"] is None
        refused = pilar.get("/coverage/picture.png?show=rate")
        assert refused.status_code == 400
        assert "no turf" in refused.text

    @pytest.mark.parametrize("by", ["area", "hole", "station", "kind"])
    def test_every_table_is_empty(self, bare: Any, by: str) -> None:
        part = bare.who("Pilar").get(f"/coverage/figures?by={by}").text
        assert "<td" not in part


class TestWithoutWater:
    def test_turf_that_no_head_reaches_has_no_uniformity(self, served: Any) -> None:
        from nightwater.desk.course import open_course
        from nightwater.desk.editing import save

        with open_course(served.path) as course:
            ids = list(course.ground.heads.index)
            dry = {"op": "set", "table": "heads", "ids": ids, "values": {"nozzle": None}}
            save(course, [dry], {}, who="Ines", why="a test", now=served.clock())
        page = served.who("Pilar").get("/coverage?whole=1&show=rate&by=area").text
        told = re.sub(r"<[^>]+>", " ", page)
        assert "no water" in told
        assert "nan" not in told
        assert "44 findings" in told or "findings about the patterns" in told


class TestTwoAtOnce:
    def test_the_matrix_is_built_by_one_of_them(
        self, served: Any, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        from nightwater.web.coverage import state

        built: list[Path] = []
        real = state.wetting

        def counted(course: Any) -> Any:
            built.append(course.path)
            return real(course)

        monkeypatch.setattr(state, "wetting", counted)
        pilar = served.who("Pilar")
        pilar.get("/coverage")  # opens the course, so that there is something to remember
        paths = ["/coverage/picture.png?show=rate", "/coverage/figures", "/coverage?whole=1"]
        answers: list[int] = []
        asking = [
            threading.Thread(target=lambda path=path: answers.append(pilar.get(path).status_code))
            for path in paths
        ]
        for one in asking:
            one.start()
        for one in asking:
            one.join()
        assert answers == [200, 200, 200]
        assert len(built) == 1
