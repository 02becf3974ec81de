"""What is not at 100 %, seen and changed by people with roles."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path
from typing import Any

import pytest
import shapely

from nightwater.desk.course import open_course
from nightwater.desk.exceptions import TrimWish, add_trim
from nightwater.desk.trimming import StandingTrim, standing_trims
from nightwater.findings import UserError
from nightwater.units import UnitSystem
from nightwater.web.places import places_of
from nightwater.web.trims.routes import change_words, subject_words
from nightwater.web.trims.wishes import TrimForm, wish_of

NIGHT = date(2026, 7, 14)
LAST = "2026-07-17"


def kept(path: Path) -> Any:
    with open_course(path) as course:
        return course.file.running("trims")


def box(path: Path) -> str:
    """A square of 20 m in the fairway, as the map tells it."""
    with open_course(path) as course:
        middle = course.ground.areas.geometry.loc["A-F"].centroid
    ring = shapely.get_coordinates(shapely.buffer(middle, 10, cap_style="square"))[:-1]
    return ", ".join(f"{x:.2f} {y:.2f}" for x, y in ring)


class TestThePage:
    def test_nothing_is_trimmed_at_first(self, served: Any) -> None:
        page = served.who("Vera").get("/trims").text
        assert "Everything gets its usual water" in page
        assert "Tue 14 July 2026" in page

    def test_each_trim_has_its_water_who_and_why(self, served: Any) -> None:
        served.who("Tomas").post("/trims/add", what="kind", kind="rough", percent="80",
                                 last=LAST, reason="let it go")  # fmt: skip
        page = served.who("Vera").get("/trims").text
        with open_course(served.path) as course:
            litres = standing_trims(course, NIGHT).tonight[0].litres
        assert litres < 0
        for said in ("all rough", "80 %", "let it go", "Tomas", f"2026-07-14 to {LAST}"):
            assert said in page
        assert f"saves {-litres / 3.785411784:,.0f} gal" in page

    def test_a_trim_of_later_nights_stands_under_to_come(self, served: Any) -> None:
        served.who("Tomas").post("/trims/add", what="course", percent="90", first="2026-07-16",
                                 last=LAST, reason="supply")  # fmt: skip
        assert "1 trim to come" in served.who("Vera").get("/trims").text
        assert "1 trim that ended" in served.who("Vera").get("/trims?night=2026-07-20").text

    def test_a_night_without_weather_says_so(self, served: Any) -> None:
        served.who("Tomas").post("/trims/add", what="course", percent="90", first="2027-07-14",
                                 last="2027-07-15", reason="supply")  # fmt: skip
        page = served.who("Vera").get("/trims?night=2027-07-14").text
        assert "cannot be told" in page
        assert "supply" in page

    def test_holds_of_the_night_stand_beside(self, served: Any) -> None:
        from nightwater.desk.holding import HoldWish, add_hold

        with open_course(served.path) as course:
            times = ("2026-07-14T18:00", "2026-07-15T12:00")
            add_hold(course, HoldWish("kind:green", "event", *times, "wedding"), who="Ines")
        page = served.who("Vera").get("/trims").text
        assert "all green" in page
        assert "wedding" in page

    def test_a_form_s_words_are_shown_as_text(self, served: Any) -> None:
        served.who("Tomas").post("/trims/add", what="course", percent="90", last=LAST,
                                 reason="<script>alert(1)</script>")  # fmt: skip
        page = served.who("Vera").get("/trims").text
        assert "<script>alert" not in page
        assert "&lt;script&gt;alert" in page


class TestAdding:
    def test_a_patch_as_the_map_sends_it(self, served: Any) -> None:
        answer = served.who("Tomas").post("/trims/add", what="map", outline=box(served.path),
                                          percent="120", last=LAST, reason="dry knoll")  # fmt: skip
        assert answer.status_code == 303
        row = kept(served.path).iloc[0]
        assert row["geometry"].area == pytest.approx(400, rel=1e-3)
        assert (row["factor"], row["author"], row["first_night"]) == (1.2, "Tomas", "2026-07-14")
        page = served.who("Vera").get("/trims").text
        assert "patch on the map" in page
        assert re.search(r"costs [\d,]+ gal", page)
        drawn = served.who("Vera").get("/trims/patches.json").json()["patches"]
        assert drawn[0]["words"] == "120 %"
        assert len(drawn[0]["polygons"][0][0]) == 5
        assert served.who("Vera").get("/trims/patches.json?night=2026-07-20").json() == {
            "patches": []
        }

    def test_round_a_head_in_the_reader_s_unit(self, served: Any) -> None:
        form = {"what": "head", "name": "H-F003", "percent": "120", "last": LAST, "reason": "dry"}
        assert served.who("Tomas").post("/trims/add", radius="30", **form).status_code == 303
        served.who("Tomas").client.cookies.set("nightwater_units", "metric")
        assert served.who("Tomas").post("/trims/add", radius="30", **form).status_code == 303
        feet, metres = kept(served.path)["geometry"]
        assert feet.area == pytest.approx(3.1416 * 9.144**2, rel=0.01)
        assert metres.area == pytest.approx(3.1416 * 900, rel=0.01)

    @pytest.mark.parametrize(
        ("form", "subject", "factor", "extra_min"),
        [
            ({"what": "hole", "name": "1", "percent": "110"}, "holes:H1", 1.1, 0.0),
            ({"what": "area", "name": "A-F", "extra_min": "-3"}, "areas:A-F", 1.0, -3.0),
            ({"what": "station", "name": "T", "off": "true"}, "stations:S-T", 0.0, 0.0),
        ],
    )
    def test_other_subjects_by_what_people_call_them(
        self, served: Any, form: dict[str, str], subject: str, factor: float, extra_min: float
    ) -> None:
        answer = served.who("Ines").post("/trims/add", last=LAST, reason="a word", **form)
        assert answer.status_code == 303
        row = kept(served.path).iloc[0]
        assert (row["subject"], row["factor"], row["extra_min"]) == (subject, factor, extra_min)

    @pytest.mark.parametrize(
        ("changed", "said"),
        [
            ({"what": "moon"}, "nothing that can be trimmed"),
            ({"name": ""}, "Say which area"),
            ({"name": "A-Q"}, "no row"),
            ({"percent": "much"}, "no number for per cent"),
            ({"last": ""}, "Give the last night"),
            ({"last": "Friday"}, "is not a date"),
            ({"reason": ""}, "Give the reason"),
            ({"what": "map"}, "no patch"),
            ({"what": "map", "outline": "0 0, 1 1"}, "does not read"),
            ({"what": "head", "name": "H-F003"}, "needs a radius"),
        ],
    )
    def test_what_is_missing_is_told_in_a_sentence(
        self, served: Any, changed: dict[str, str], said: str
    ) -> None:
        form = {"what": "area", "name": "A-F", "percent": "90", "last": LAST, "reason": "wet"}
        answer = served.who("Ines").post("/trims/add", **(form | changed))
        assert answer.status_code == 400
        assert said in answer.text
        assert kept(served.path).empty

    def test_a_patch_takes_no_minutes(self, served: Any) -> None:
        answer = served.who("Ines").post("/trims/add", what="map", outline=box(served.path),
                                         extra_min="5", last=LAST, reason="dry")  # fmt: skip
        assert answer.status_code == 400
        assert "no added minutes" in answer.text


class TestEnding:
    def test_it_ends_and_stays(self, served: Any) -> None:
        with open_course(served.path) as course:
            wish = TrimWish("kind:rough", 0.8, 0.0, date(2026, 7, 10), NIGHT, "let it go")
            add_trim(course, wish, who="Ines")
        name = kept(served.path).index[0]
        answer = served.who("Tomas").post("/trims/end", trim=name, why="it rained")
        assert answer.status_code == 303
        row = kept(served.path).loc[name]
        assert row["last_night"] == "2026-07-13"
        assert (row["ended_by"], row["reason"]) == ("Tomas", "let it go")
        page = served.who("Vera").get("/trims").text
        assert "Ended by Tomas, 2026-07-14" in page
        assert "1 trim that ended" in page
        assert "it rained" in page

    def test_an_unknown_one_is_not_found(self, served: Any) -> None:
        assert served.who("Tomas").post("/trims/end", trim="none").status_code == 404


class TestRoles:
    @pytest.mark.parametrize("name", ["Pilar", "Vera"])
    def test_those_who_only_read_are_told_why(self, served: Any, name: str) -> None:
        page = served.who(name).get("/trims").text
        assert "Only an owner or a planner may trim the water" in page
        assert "/trims/add" not in page
        form = {"what": "course", "percent": "90", "last": LAST, "reason": "supply"}
        assert served.who(name).post("/trims/add", **form).status_code == 403
        assert served.who(name).post("/trims/end", trim="x").status_code == 403
        assert kept(served.path).empty

    def test_a_form_of_another_session_is_refused(self, served: Any) -> None:
        form = {"what": "course", "percent": "90", "last": LAST, "reason": "supply"}
        assert served.who("Ines").post("/trims/add", token="old", **form).status_code == 403

    def test_strangers_see_nothing(self, served: Any) -> None:
        assert served.stranger().get("/trims").status_code == 303


def standing(factor: float, extra_min: float) -> StandingTrim:
    return StandingTrim("t", "course", "", factor, extra_min, NIGHT, NIGHT, "why", "Ines")


@pytest.mark.parametrize(
    ("factor", "extra_min", "words"),
    [
        (1.2, 0, "120 %"),
        (0, 0, "off"),
        (1, 5, "+5 min"),
        (0.8, -2, "80 %, -2 min"),
        (0, 5, "0 %, +5 min"),
    ],
)
def test_what_a_trim_does_in_words(factor: float, extra_min: float, words: str) -> None:
    assert change_words(standing(factor, extra_min)) == words


def test_subjects_in_words(small_course: Path) -> None:
    with open_course(small_course) as course:
        places = places_of(course.ground)
    said = {
        "course": "whole course",
        "map": "patch on the map",
        "kind:rough": "all rough",
        "areas:A-F": "area A-F",
        "stations:S-T": "station T",
        "nozzles:N": "nozzles:N",
    }
    assert {subject: subject_words(subject, places) for subject in said} == said


def test_the_first_night_is_tonight_where_none_is_given(small_course: Path) -> None:
    form = TrimForm("course", "", "", "", "", "90", "", False, "", LAST, "supply")
    with open_course(small_course) as course:
        assert wish_of(form, course, UnitSystem.US, NIGHT).first_night == NIGHT
        bad = TrimForm("course", "", "", "", "", "", "few", False, "", LAST, "supply")
        with pytest.raises(UserError, match="no number for minutes"):
            wish_of(bad, course, UnitSystem.US, NIGHT)
