"""Pilar looks at where tonight's water lands, and asks about a dry spot."""

from __future__ import annotations

import io
import re
from typing import Any

import numpy as np
import pytest
from PIL import Image

NIGHT = "2026-07-14"
PART = {"hx-request": "true", "hx-request-type": "partial"}


def words(page: str) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", page).split())


def place_of(served: Any, head: str) -> tuple[float, float]:
    from nightwater.desk.course import open_course
    from nightwater.desk.spot_tonight import head_place_m

    with open_course(served.path) as course:
        return head_place_m(course.ground, head)


def spot_of(served: Any, x_m: float, y_m: float) -> Any:
    from datetime import date

    from nightwater.desk.course import open_course
    from nightwater.desk.coverage import MapKind, coverage_map
    from nightwater.desk.nights import stored_night
    from nightwater.desk.spot_tonight import spot_tonight
    from nightwater.desk.wetting import wetting

    with open_course(served.path) as course:
        stored, wet = stored_night(course, date.fromisoformat(NIGHT)), wetting(course)
        shown = coverage_map(wet, MapKind.DEPTH, stored)
        return spot_tonight(course.ground, wet, shown, stored, (x_m, y_m))


class TestPage:
    def test_the_first_look_does_not_wait_for_the_figures(self, served: Any) -> None:
        page = served.who("Pilar").get("/coverage").text
        assert "<coverage-map" in page
        assert 'hx-get="/coverage/figures?' in page
        assert "whole=1" in page  # the way for those without script

    def test_the_figures_come_after_it_with_the_legend(self, served: Any) -> None:
        part = served.who("Pilar").get("/coverage/figures?by=area", headers=PART).text
        assert 'id="legend" hx-swap-oob="true"' in part
        assert "no water" in part
        assert "A-F" in words(part)
        assert "Whole course: mean" in words(part)
        assert "Need is that of each area; no slope, reading or trim" in words(part)
        assert re.search(r"Pressures at \d+ heads come from the solved pipes", words(part))

    def test_once_they_are_known_they_stand_in_the_page(self, served: Any) -> None:
        pilar = served.who("Pilar")
        assert "hx-get" not in pilar.get("/coverage?whole=1").text
        again = pilar.get("/coverage").text
        assert "hx-get" not in again
        assert "DUlq" in words(again)

    def test_a_day_without_a_night_shows_rates(self, served: Any) -> None:
        page = served.who("Pilar").get("/coverage?night=2026-07-20&whole=1").text
        assert "Nothing is planned for this night" in page
        assert "Rate while every head runs" in page
        assert "in/h" in page
        assert "short or over" not in page

    def test_units_are_the_reader_s(self, served: Any) -> None:
        pilar = served.who("Pilar")
        assert "over 0." in words(pilar.get("/coverage?whole=1").text)
        pilar.client.cookies.set("nightwater_units", "metric")
        page = words(pilar.get("/coverage?whole=1&by=area").text)
        assert re.search(r"over \d+ mm", page)
        assert " ha" in page

    def test_the_table_filters_by_kind_and_the_kinds_lead_there(self, served: Any) -> None:
        pilar = served.who("Pilar")
        kinds = pilar.get("/coverage?whole=1").text
        assert "by=area&amp;kind=green" in kinds
        page = pilar.get("/coverage?by=area&kind=green").text
        table = page[page.index("<tbody>") :]
        assert "A-G" in table
        assert "A-R" not in table

    @pytest.mark.parametrize("by", ["hole", "station"])
    def test_other_groupings(self, served: Any, by: str) -> None:
        page = served.who("Pilar").get(f"/coverage?whole=1&by={by}").text
        assert {"hole": "Hole 1", "station": "R2"}[by] in words(page)
        assert "SC 5 %" in page

    def test_a_stranger_is_asked_who_he_is(self, served: Any) -> None:
        for path in ("/coverage", "/coverage/picture.png", "/coverage/figures"):
            assert served.stranger().get(path).status_code in (303, 401)

    def test_nonsense_in_the_address_is_refused_in_words(self, served: Any) -> None:
        for query in ("show=letters", "x=nan&y=1", "by=colour"):
            assert served.who("Pilar").get(f"/coverage?{query}").status_code == 400


class TestPicture:
    def test_it_is_drawn_once_and_sent_once(self, served: Any) -> None:
        pilar = served.who("Pilar")
        first = pilar.get(f"/coverage/picture.png?show=depth&night={NIGHT}")
        assert first.headers["content-type"] == "image/png"
        again = pilar.get(
            f"/coverage/picture.png?show=depth&night={NIGHT}",
            headers={"if-none-match": first.headers["etag"]},
        )
        assert (again.status_code, again.content) == (304, b"")
        other = pilar.get(f"/coverage/picture.png?show=rate&night={NIGHT}")
        assert other.headers["etag"] != first.headers["etag"]

    def test_it_lies_where_its_document_says(self, served: Any) -> None:
        pilar = served.who("Pilar")
        document = pilar.get(f"/coverage/picture.json?show=rate&night={NIGHT}").json()
        left, bottom, right, top = document["extent_m"]
        picture = Image.open(io.BytesIO(pilar.get(document["address"]).content)).convert("RGBA")
        assert picture.size == (right - left, top - bottom)
        x_m, y_m = place_of(served, "H-G0")
        pixel = picture.getpixel((int(x_m - left) + 1, int(top - y_m) - 1))
        assert pixel[3] == 255
        opaque = np.asarray(picture)[:, :, 3] > 0
        assert 0.3 < opaque.mean() < 0.9

    def test_an_edited_record_gives_another_picture(self, served: Any) -> None:
        from nightwater.desk.course import open_course
        from nightwater.desk.editing import save

        pilar = served.who("Pilar")
        first = pilar.get("/coverage/picture.png?show=rate").headers["etag"]
        half = {"arc_deg": 180.0, "bearing_deg": 90.0}
        turn = {"op": "set", "table": "heads", "ids": ["H-F006"], "values": half}
        with open_course(served.path) as course:
            save(course, [turn], {}, who="Ines", why="a test", now=served.clock())
        assert pilar.get("/coverage/picture.png?show=rate").headers["etag"] != first


class TestSpot:
    def test_a_spot_tells_depth_heads_and_minutes(self, served: Any) -> None:
        x_m, y_m = place_of(served, "H-F006")
        spot = spot_of(served, x_m, y_m)
        part = served.who("Pilar").get(f"/coverage?x={x_m}&y={y_m}", headers=PART).text
        told = words(part)
        assert "<html" not in part
        assert f"A-F: {spot.depth_mm / 25.4:.2f} in" in told
        assert f"from {len(spot.heads)} heads" in told
        for one in spot.heads:
            assert f"{one.run_min:.0f} min" in told
            assert f"subject=heads:{one.head}" in part
        assert f"{spot.heads[0].depth_mm / 25.4:.2f} in" in told

    def test_over_and_short_agree_with_the_numbers_shown(self, served: Any) -> None:
        x_m, y_m = place_of(served, "H-F006")
        address = f"/coverage?x={x_m}&y={y_m + 14}"
        told = words(served.who("Pilar").get(address, headers=PART).text)
        found = re.search(r"([\d.]+) in of ([\d.]+) in needed, ([\d.]+) in (over|short)", told)
        assert found
        depth, need, off = (float(found[n]) for n in (1, 2, 3))
        assert off == pytest.approx(abs(depth - need))
        assert found[4] == ("over" if depth > need else "short")

    def test_a_head_by_label_without_script(self, served: Any) -> None:
        page = served.who("Pilar").get("/coverage?head=h-f006").text
        assert "<html" in page
        assert "A-F:" in words(page)
        x_m, y_m = place_of(served, "H-F006")
        assert f'spot="{x_m},{y_m}"' in page

    def test_beside_the_turf(self, served: Any) -> None:
        part = served.who("Pilar").get("/coverage?x=1&y=1", headers=PART).text
        assert "No watered turf here." in part

    def test_an_unknown_head_or_area_is_told(self, served: Any) -> None:
        pilar = served.who("Pilar")
        for query, told in (("head=H-99", "No head is called"), ("area=Z", "no area")):
            answer = pilar.get(f"/coverage?{query}")
            assert answer.status_code == 404
            assert told in answer.text

    def test_a_day_without_a_night_tells_rates(self, served: Any) -> None:
        x_m, y_m = place_of(served, "H-F006")
        address = f"/coverage?night=2026-07-20&x={x_m}&y={y_m}"
        told = words(served.who("Pilar").get(address, headers=PART).text)
        assert re.search(r"A-F: [\d.]+ in/h while \d heads run", told)
        assert " min" not in told


class TestArea:
    def test_its_figures_and_its_densogram(self, served: Any) -> None:
        pilar = served.who("Pilar")
        told = words(pilar.get("/coverage?area=A-F").text)
        assert re.search(r"DUlq [01]\.\d\d DUlh [01]\.\d\d CU", told)
        assert "Scheduling coefficient, 5 %" in told
        chart = pilar.get(f"/coverage/densogram.json?area=A-F&show=depth&night={NIGHT}").json()
        bars = next(rows for rows in chart["datasets"].values() if "share" in rows[0])
        assert sum(bar["share"] for bar in bars) == pytest.approx(100, abs=0.2)
        assert {bar["part"] for bar in bars} == {"dry", "even", "wet"}
        shown = re.findall(r"(\d+\.\d) %", told[told.index("Times the mean") :])
        assert sum(map(float, shown[: len([b for b in bars if b["share"] > 0])])) == pytest.approx(
            100, abs=1.5
        )

    def test_the_driest_square_can_be_looked_at(self, served: Any) -> None:
        pilar = served.who("Pilar")
        page = pilar.get("/coverage?area=A-R").text
        link = re.search(r'href="(/coverage\?[^"]*x=[^"]*)#spot-title">driest', page)
        assert link
        told = words(pilar.get(link[1].replace("&amp;", "&")).text)
        assert "A-R:" in told

    def test_a_chart_of_an_unknown_area(self, served: Any) -> None:
        assert served.who("Pilar").get("/coverage/densogram.json?area=Z").status_code == 404


class TestWind:
    """Pilar lets the night's wind count, and the page says so."""

    def blown(self, served: Any) -> Any:
        from dataclasses import replace
        from datetime import UTC, datetime

        import pandas as pd

        from nightwater.desk.course import open_course

        times = pd.date_range(NIGHT, periods=48, freq="h").strftime("%Y-%m-%dT%H:%M:%SZ")
        rows = {"step": "hour", "origin": "forecast", "time": times, "wind_m_s": 2.0,
                "wind_height_m": 2.0, "gauge": None}  # fmt: skip
        names = pd.Index([f"W{place}" for place in range(len(times))], name="id")
        with open_course(served.path) as course:
            course.file.append("weather", pd.DataFrame(rows, index=names))
            minutes = replace(course.settings.minutes, night_wind="forecast")
            settings = replace(course.settings, minutes=minutes)
            now = datetime(2026, 7, 14, 21, tzinfo=UTC)
            course.file.save_settings(settings, "Pilar", "wind counts", now)
        return served.who("Pilar")

    def test_the_legend_tells_what_is_taken_off(self, served: Any) -> None:
        still = words(served.who("Pilar").get(f"/coverage/figures?night={NIGHT}").text)
        assert "what is lost to drift and evaporation is not taken off" in still
        windy = words(self.blown(served).get(f"/coverage/figures?night={NIGHT}").text)
        assert "9 % lost to drift and evaporation is taken off" in windy
        assert "is not taken off" not in windy

    def test_the_rate_is_that_of_still_air(self, served: Any) -> None:
        page = words(self.blown(served).get(f"/coverage/figures?night={NIGHT}&show=rate").text)
        assert "Still air; what is lost to drift and evaporation is not taken off" in page
