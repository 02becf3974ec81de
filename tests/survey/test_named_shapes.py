"""What a name says of kind and hole, and what it does not."""

from __future__ import annotations

from pathlib import Path

import pytest

from nightwater.ground.tables import TABLES
from nightwater.survey.named_shapes import KIND_WORDS, NameSays, name_says
from nightwater.survey.read import ReadOptions, SurveyRows, read_table


def polygon(name: str | None, n: int, more: str = "") -> str:
    named = "" if name is None else f"<name>{name}</name>"
    west = -112 + n / 1000
    spots = [(west, 39.2), (west + 3e-4, 39.2), (west + 3e-4, 39.203), (west, 39.2)]
    ring = " ".join(f"{x:.5f},{y}" for x, y in spots)
    return (
        f"<Placemark>{named}{more}<Polygon><outerBoundaryIs><LinearRing><coordinates>{ring}"
        "</coordinates></LinearRing></outerBoundaryIs></Polygon></Placemark>"
    )


def survey_of(tmp_path: Path, folder: str, shapes: list[str]) -> SurveyRows:
    path = tmp_path / "course.kml"
    inner = f"<Folder><name>{folder}</name>{''.join(shapes)}</Folder>"
    head = '<kml xmlns="http://www.opengis.net/kml/2.2"><Document>'
    path.write_text(f"{head}{inner}</Document></kml>", encoding="utf-8")
    return read_table(path, TABLES["areas"], "EPSG:32612", ReadOptions())


def messages(survey: SurveyRows, code: str) -> list[str]:
    return [finding.message for finding in survey.findings if finding.code == code]


@pytest.mark.parametrize(
    ("name", "kind", "hole"),
    [
        ("hole_3_green", "green", 3),
        ("Hole 18 - Tee", "tee", 18),
        ("bunker_4", "bunker", 4),
        ("BUNKERS", "bunker", None),
        ("green7", "green", 7),
        ("Tee-Box 12", "tee", 12),
        ("Approaches", "approach", None),
        ("water hazard 54", "water", 54),
        ("Pond", "water", None),
        ("Driving Range", "practice", None),
        ("driving_ranges", "practice", None),
        ("hole_10_18_water", "water", None),
        ("hole_0_green", "green", None),
        ("hole 55 green", "green", None),
        ("green 2019", "green", None),
        ("greenside", None, None),
        ("Greenwood", None, None),
        ("Practice green", None, None),
        ("fairway bunker 3", None, 3),
        ("hazard 4", None, 4),
        ("", None, None),
        ("7", None, 7),
        ("grün 7", None, 7),
        ("green " + "9" * 5000, "green", None),
        ("green ²", "green", None),
        ("green ٣", "green", 3),
    ],
)
def test_a_name_says_kind_and_hole(name: str, kind: str | None, hole: int | None) -> None:
    says = name_says(name)
    assert (says.kind, says.hole) == (kind, hole)


def test_two_kinds_and_two_numbers_are_kept_apart() -> None:
    assert name_says("hole 2 green tee 9") == NameSays(None, None, ("green", "tee"), (2, 9))
    assert name_says("water pond 3").kind == "water"  # two words of one kind


@pytest.mark.parametrize("word", sorted(KIND_WORDS))
def test_every_word_works_alone_in_plural_and_in_capitals(word: str) -> None:
    assert name_says(word).kind == KIND_WORDS[word]
    assert name_says(word.upper() + "_1").kind == KIND_WORDS[word]
    assert name_says(word.removesuffix("es") + "s").kind in (KIND_WORDS[word], None)


def test_the_title_before_a_name_says_no_kind(tmp_path: Path) -> None:
    names = ["green_lake_hole_3_bunker", "green_lake_hole_4_tee", "green_lake"]
    survey = survey_of(tmp_path, "green_lake", [polygon(name, n) for n, name in enumerate(names)])
    assert survey.rows["kind"].tolist() == ["bunker", "tee"]
    assert survey.rows["label"].tolist() == names[:2]
    assert survey.unreadable == 1


def test_a_folder_named_like_a_kind_does_not_eat_it(tmp_path: Path) -> None:
    survey = survey_of(tmp_path, "Green", [polygon("Green 7", 1)])
    assert survey.rows[["kind", "hole"]].to_numpy().tolist() == [["green", "7"]]


def test_doubts_are_counted_and_listed(tmp_path: Path) -> None:
    names = ["hole_10_18_water", "hazard", None, "Practice green", "green 99"]
    survey = survey_of(tmp_path, "A", [polygon(name, n) for n, name in enumerate(names)])
    assert survey.rows["kind"].tolist() == ["water", "green"]
    (kinds,) = messages(survey, "kind-not-told")
    assert "3 shapes" in kinds
    assert "'hazard', placemark 3 without a name, 'Practice green'" in kinds
    (holes,) = messages(survey, "hole-not-told")
    assert "'hole_10_18_water', 'green 99'" in holes
    assert len(messages(survey, "bad-row")) == survey.unreadable == 3


def test_a_tag_fills_in_for_a_name_and_never_overrules_it(tmp_path: Path) -> None:
    def tag(value: str) -> str:
        return f'<ExtendedData><Data name="golf"><value>{value}</value></Data></ExtendedData>'

    shapes = [
        polygon("hole_1_tee", 1, tag("bunker")),
        polygon(None, 2, tag("green")),
        polygon("hazard", 3, tag("lateral_water_hazard")),
        polygon("hole_2_tee", 4, tag("tee")),
        polygon(None, 5, tag("clubhouse")),
    ]
    survey = survey_of(tmp_path, "A", shapes)
    assert survey.rows["kind"].tolist() == ["tee", "green", "water", "tee"]
    (against,) = messages(survey, "name-against-tag")
    assert "1 names" in against
    assert "'hole_1_tee'" in against
    assert "placemark 5 without a name" in messages(survey, "kind-not-told")[0]
