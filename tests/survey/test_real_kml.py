"""Three whole courses in KML, each shape named by hand; counts by name are data/README's.

The words of the names were counted apart from the code under test.
"""

from __future__ import annotations

import os
import re
from collections import Counter
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import pytest

from nightwater.ground.record import ground_from
from nightwater.ground.tables import TABLES
from nightwater.survey.propose import propose
from nightwater.survey.read import ReadOptions, SurveyRows, read_table

FOLDER = os.environ.get("NIGHTWATER_DATA")
pytestmark = pytest.mark.skipif(FOLDER is None, reason="NIGHTWATER_DATA names no folder of files")
GOLF = Path(FOLDER or ".") / "golf"
DESERT, LAKE, CAPE = "tpc_scottsdale_stadium_course", "crown_golf_club", "cypress_point"
SYSTEMS = {DESERT: "EPSG:32612", LAKE: "EPSG:32616", CAPE: "EPSG:32610"}
# By their names: greens, tees, fairways, bunkers as data/README counts them; water by hand.
NAMED = {
    DESERT: {"green": 18, "tee": 66, "fairway": 21, "bunker": 66, "water": 8},
    LAKE: {"green": 18, "tee": 71, "fairway": 21, "bunker": 66, "water": 3},
    CAPE: {"green": 18, "tee": 41, "fairway": 13, "bunker": 101, "water": 3, "practice": 2},
}
# Of the named shapes, hectares: data/README.
HECTARES = {
    DESERT: {"green": 1.19, "fairway": 11.75, "tee": 1.43, "water": 5.26},
    LAKE: {"green": 0.96, "fairway": 11.75, "tee": 0.71},
    CAPE: {"green": 0.72, "fairway": 10.81, "tee": 2.46},
}
MEDIAN_GREEN_M2 = {DESERT: (649, 464, 918), LAKE: (500, 382, 766), CAPE: (374, 210, 659)}
COURSES = [DESERT, LAKE, CAPE]


def survey_of(course: str) -> SurveyRows:
    path = GOLF / f"{course}.kml"
    return read_table(path, TABLES["areas"], SYSTEMS[course], ReadOptions())


def by_name(survey: SurveyRows) -> SurveyRows:
    """The rows whose name carries a hole or, of one course, the practice ground."""
    names = survey.rows["label"].fillna("")
    told = names.str.contains(r"hole_\d") | names.isin(["Driving Range", "Practice Area"])
    told &= ~names.str.endswith("hazard")
    return replace(survey, rows=survey.rows[told])


def messages(survey: SurveyRows, code: str) -> list[str]:
    return [finding.message for finding in survey.findings if finding.code == code]


def placemarks(course: str) -> list[tuple[str, str | None]]:
    """Name and golf tag of each placemark."""
    space = "{http://www.opengis.net/kml/2.2}"
    found = []
    for mark in ElementTree.parse(GOLF / f"{course}.kml").iter(f"{space}Placemark"):
        tags = {d.get("name"): d.text for d in mark.iter(f"{space}SimpleData")}
        found.append((mark.findtext(f"{space}name") or "", tags.get("golf")))
    return found


@pytest.mark.parametrize("course", COURSES)
def test_kinds_by_name_are_the_hand_count(course: str) -> None:
    rows = by_name(survey_of(course)).rows
    assert rows["kind"].value_counts().to_dict() == NAMED[course]
    assert rows.geometry.is_valid.all()


@pytest.mark.parametrize("course", COURSES)
def test_hectares_by_name_are_the_hand_sum(course: str) -> None:
    rows = by_name(survey_of(course)).rows
    sums = (rows.geometry.area / 10_000).groupby(rows["kind"]).sum()
    for kind, hectares in HECTARES[course].items():
        assert sums[kind] == pytest.approx(hectares, abs=0.0051), kind
    greens = rows.geometry.area[rows["kind"] == "green"]
    median, least, most = MEDIAN_GREEN_M2[course]
    assert greens.median() == pytest.approx(median, abs=1)
    assert (greens.min(), greens.max()) == pytest.approx((least, most), abs=1)


@pytest.mark.parametrize("course", COURSES)
def test_every_hole_has_one_green_and_its_own_tees(course: str) -> None:
    rows = by_name(survey_of(course)).rows
    greens = rows.loc[rows["kind"] == "green", "hole"].astype(int)
    assert sorted(greens) == list(range(1, 19))
    stated = Counter(
        int(found[1])
        for name, _ in placemarks(course)
        if (found := re.search(r"hole_(\d+)_tee$", name))
    )
    tees = rows.loc[rows["kind"] == "tee", "hole"].dropna().astype(int)
    assert Counter(tees) == stated


@pytest.mark.parametrize("course", COURSES)
def test_every_placemark_is_a_row_or_is_told(course: str) -> None:
    survey = survey_of(course)
    marks = placemarks(course)
    assert len(survey.rows) + len(survey.refused) == len(marks)
    assert {DESERT: 195, LAKE: 203, CAPE: 219}[course] == len(marks)
    assert len(survey.refused) == {DESERT: 1, LAKE: 1, CAPE: 2}[course]
    assert len(messages(survey, "kind-not-told")) == 1
    assert len(messages(survey, "bad-row")) == len(survey.refused)


def test_two_numbers_in_a_name_give_no_hole() -> None:
    lake, cape = survey_of(LAKE), survey_of(CAPE)
    (told,) = messages(lake, "hole-not-told")
    assert "'crown_golf_club_hole_10_18_water'" in told
    row = lake.rows[lake.rows["label"] == "crown_golf_club_hole_10_18_water"]
    assert row[["kind", "hole"]].to_numpy().tolist() == [["water", None]]
    (told,) = messages(cape, "hole-not-told")
    assert "hole_10_11_tee" in told
    assert "hole_16_17_fairway" in told
    assert not messages(survey_of(DESERT), "hole-not-told")


@pytest.mark.parametrize(("course", "against"), [(DESERT, 3), (LAKE, 1), (CAPE, 3)])
def test_names_that_contradict_their_tag_are_told(course: str, against: int) -> None:
    (told,) = messages(survey_of(course), "name-against-tag")
    assert f": {against} names carry" in told


@pytest.mark.parametrize("course", COURSES)
def test_a_whole_course_is_proposed_without_doubt(course: str) -> None:
    survey = survey_of(course)
    proposal = propose(ground_from(SYSTEMS[course], {}), TABLES["areas"], survey)
    assert len(proposal.added) == len(survey.rows)
    assert not proposal.doubtful
    assert {f.code for f in proposal.findings if f.severity == "error"} == {"bad-row"}
    again = propose(
        ground_from(SYSTEMS[course], {"areas": survey.rows.assign(hole=None)}),
        TABLES["areas"],
        survey,
    )
    assert [again.added, again.changed, again.removed, again.doubtful] == [{}, {}, {}, {}]
