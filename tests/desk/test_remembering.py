"""Choices about columns, kept in the course from one survey to the next."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from nightwater.desk.course import open_course
from nightwater.desk.remembering import kept_choices
from nightwater.desk.surveying import accept, column_rows, proposal_rows, survey_file
from nightwater.survey.propose import Proposal
from nightwater.survey.read import ReadOptions

NOW = datetime(2026, 7, 14, 20, tzinfo=UTC)
SAID = ReadOptions(
    columns={"Throw": "radius_m", "GPM": "flow_l_s"},
    units={"Throw": "ft", "GPM": "gpm"},
    fixed={"pressure_kpa": "480"},
)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    (tmp_path / "sizes.csv").write_text("id,Throw,GPM\nX1,65,27.5\n")
    return tmp_path / "sizes.csv"


def surveyed(
    course: Path, path: Path, options: ReadOptions, *, forget: bool = False, take: bool = True
) -> Proposal:
    with open_course(course) as opened:
        proposal = survey_file(
            opened, path, "nozzles", options, complete=False, forget_columns=forget
        )
        if take:
            accept(
                opened,
                proposal,
                with_doubtful=False,
                who="Pilar",
                why="list",
                now=NOW,
                forget_columns=forget,
            )
    return proposal


def codes(proposal: Proposal) -> set[str]:
    return {finding.code for finding in proposal.findings}


def test_what_is_accepted_is_used_for_the_next_file(small_course: Path, path: Path) -> None:
    assert list(surveyed(small_course, path, SAID).added) == ["X1"]
    path.write_text("GPM,id,Throw\n14,X2,50\n")
    again = surveyed(small_course, path, ReadOptions())
    assert again.added["X2"].after["radius_m"] == pytest.approx(15.24)  # type: ignore[index]
    assert again.added["X2"].after["pressure_kpa"] == 480.0  # type: ignore[index]
    assert "columns-remembered" in codes(again)
    with open_course(small_course) as opened:
        row = opened.file.running("column_matches").iloc[0]
        assert (row["fills"], row["author"]) == ("nozzles", "Pilar")
        assert row["time"].startswith("2026-07-14T20:00")
        assert list(kept_choices(opened, "heads")) == []


def test_what_is_only_shown_is_not_kept(small_course: Path, path: Path) -> None:
    surveyed(small_course, path, SAID, take=False)
    with open_course(small_course) as opened:
        assert opened.file.running("column_matches").empty


def test_what_is_said_anew_replaces_what_is_kept(small_course: Path, path: Path) -> None:
    surveyed(small_course, path, SAID)
    surveyed(small_course, path, ReadOptions(units={"Throw": "m"}))
    with open_course(small_course) as opened:
        (said,) = kept_choices(opened, "nozzles").values()
    assert said.units == {"Throw": "m", "GPM": "gpm"}


def test_forgetting_ignores_and_forgets(small_course: Path, path: Path) -> None:
    surveyed(small_course, path, SAID)
    shown = surveyed(small_course, path, ReadOptions(), forget=True, take=False)
    assert "unknown-column" in codes(shown)
    with open_course(small_course) as opened:
        assert len(kept_choices(opened, "nozzles")) == 1
    surveyed(small_course, path, ReadOptions(), forget=True)
    with open_course(small_course) as opened:
        assert kept_choices(opened, "nozzles") == {}
    assert "columns-remembered" not in codes(surveyed(small_course, path, ReadOptions()))


def test_the_proposal_is_shown_in_five_lines(small_course: Path, tmp_path: Path) -> None:
    with open_course(small_course) as opened:
        heads = opened.ground.heads.iloc[:4]
        spots = zip(heads.index, heads.geometry, (0.0, 0.5, 2.0, 9.0), strict=True)
        text = "".join(f"{key},{p.x + east},{p.y}\n" for key, p, east in spots)
        (tmp_path / "walk.csv").write_text("id,x,y\n" + text)
        options = ReadOptions(crs=opened.ground.crs)
        proposal = survey_file(
            opened, tmp_path / "walk.csv", "heads", options, complete=False, overrule=True
        )
    rows = {row["change"]: row for row in proposal_rows(proposal)}
    assert list(rows) == ["added", "moved", "changed", "removed", "doubtful"]
    far, near = heads.index[2], heads.index[1]
    assert rows["moved"]["examples"].startswith(f"{far} (2.0 m), {near} (0.5 m)")
    assert rows["doubtful"] == {"change": "doubtful", "count": 1, "examples": heads.index[3]}


def test_columns_are_shown_as_the_survey_would_take_them(small_course: Path, path: Path) -> None:
    def shown(options: ReadOptions) -> list[tuple[object, ...]]:
        with open_course(small_course) as opened:
            rows = column_rows(opened, path, "nozzles", options)
        return [(r["ours"], r["certain"], r["unit"], r["why"]) for r in rows]

    named = ("id", True, None, "our name")
    assert shown(ReadOptions()) == [
        named,
        ("radius_m", False, None, "a word of the trade"),
        ("flow_l_s", False, "gpm", "a word of the trade"),
    ]
    said = shown(ReadOptions(columns={"Throw": "radius_m", "GPM": "flow_l_s"}))
    assert said[1:] == [("radius_m", False, None, "said"), ("flow_l_s", True, "gpm", "said")]
    surveyed(small_course, path, SAID)
    assert shown(ReadOptions())[1:] == [
        ("radius_m", True, "ft", "said of an earlier file"),
        ("flow_l_s", True, "gpm", "said of an earlier file"),
    ]
