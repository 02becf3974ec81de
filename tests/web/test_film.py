"""The film of a night, frame by frame, and its charts."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from typing import Any

NIGHT = "2026-07-14"
AFTERNOON = datetime(2026, 7, 14, 21, tzinfo=UTC)


def get(served: Any, what: str) -> Any:
    return served.who("Vera").get(f"/film/{what}.json?night={NIGHT}").json()


def plan_of(served: Any) -> Any:
    from datetime import date

    from nightwater.desk.course import open_course
    from nightwater.desk.nights import stored_night

    with open_course(served.path) as course:
        stored = stored_night(course, date.fromisoformat(NIGHT))
    assert stored is not None
    return stored.plan


def test_every_frame_has_its_figures_with_units(served: Any) -> None:
    plan, frames = plan_of(served), get(served, "frames")["frames"]
    assert len(frames) == -(-plan.window.minutes // 5) + 1
    assert [frame["name"] for frame in frames[:2]] == ["f0", "f1"]
    assert frames[-1]["flow"] == "0 gpm"
    assert frames[-1]["volume"] == f"{plan.volume_m3 * 264.172052:,.0f} gal"
    assert all(re.fullmatch(r"\d\.\d\d in", frame["depth"]) for frame in frames)
    assert all(0 <= frame["share"] <= 1 for frame in frames)


def test_the_map_shows_open_stations_and_depth_so_far(served: Any) -> None:
    plan, document = plan_of(served), get(served, "values")
    shown = document["shown"]
    minute = plan.runs[0].start_min - plan.runs[0].start_min % 5 + 5
    running = {r.station for r in plan.runs if r.start_min <= minute < r.start_min + r.run_min}
    assert set(shown[f"f{minute // 5}"]["stations"]) == running
    assert set(shown["f0"]["areas"].values()) == {shown["f0"]["areas"]["A-F"]}
    assert shown["f0"]["areas"]["A-F"].startswith("band-0-")
    last = shown[max(shown, key=lambda name: int(name[1:]))]
    assert last["stations"] == {}
    assert not last["areas"]["A-F"].startswith("band-0-")
    assert "in the whole night" in document["texts"]["areas:A-F"]


def test_the_page_shows_its_frame_without_script(served: Any) -> None:
    plan = plan_of(served)
    page = served.who("Vera").get(f"/film?night={NIGHT}&at=1").text
    open_now = {r.station for r in plan.runs if r.start_min <= 5 < r.start_min + r.run_min}
    listed = re.search(r"<p>Open: ([^.]*)\.</p>", page)
    assert listed is not None
    assert {f"S-{label}" for label in listed[1].split(", ")} == open_now
    assert 'value="1" step="1"' in page
    assert "This is the plan, not the field" in page


def test_frames_beyond_the_night_show_its_ends(served: Any) -> None:
    page = served.who("Vera").get(f"/film?night={NIGHT}&at=9999").text
    assert "Nothing is open." in page
    assert served.who("Vera").get(f"/film?night={NIGHT}&at=-5").status_code == 200


def test_a_date_without_a_plan_has_no_film(served: Any) -> None:
    assert served.who("Vera").get("/film?night=2026-01-01").status_code == 404


def rows(spec: dict[str, Any]) -> list[dict[str, Any]]:
    (values,) = spec["datasets"].values()
    return list(values)


def test_paths_are_charted_against_the_heads_they_may_hold(served: Any) -> None:
    plan, found = plan_of(served), rows(get(served, "paths"))
    heads = {item.station: item.heads for item in plan.sums}
    most = 0
    for minute in range(plan.window.minutes):
        running = {r.station for r in plan.runs if r.start_min <= minute < r.start_min + r.run_min}
        most = max(most, sum(heads[station] for station in running))
    assert {row["name"] for row in found} == {"Path C1"}
    assert max(int(row["said"].split()[0]) for row in found) == most


def test_mains_are_charted_against_their_limit(served: Any) -> None:
    found = rows(get(served, "mains"))
    assert {row["name"] for row in found} == {"P-main"}
    assert max(row["share"] for row in found) <= 1
    assert all(re.fullmatch(r"[\d,]+ gpm of [\d,]+ gpm", row["said"]) for row in found)


def test_the_gauge_tells_the_lowest_pressure_of_each_frame(served: Any) -> None:
    plan, frames = plan_of(served), get(served, "frames")["frames"]
    for number, frame in enumerate(frames):
        minute = min(5 * number, plan.window.minutes)
        running = [r for r in plan.runs if r.start_min <= minute < r.start_min + r.run_min]
        if running:
            assert re.fullmatch(r"\d+ psi", frame["pressure"])
            assert frame["lowest"].startswith("at ")
            assert frame["short"] == "every head has its pressure"
        else:
            assert (frame["pressure"], frame["short"]) == ("–", "")


def test_stations_short_of_pressure_are_marked(served: Any) -> None:
    from nightwater.desk.choosing import change_settings
    from nightwater.desk.course import open_course

    with open_course(served.path) as course:
        change_settings(course, {"night.least_head_kpa": "757.9"}, "Ines", "hard heads", AFTERNOON)
    frame = get(served, "frames")["frames"][1]
    assert re.fullmatch(r"\d+ heads too low", frame["short"])
    shown = get(served, "values")["shown"]["f1"]["stations"]
    assert set(shown.values()) == {"short"}
    page = served.who("Vera").get(f"/film?night={NIGHT}&at=1").text
    assert "heads too low" in page
    assert "of a station that lacks pressure" in page


def test_a_record_that_cannot_be_solved_has_a_film_without_pressures(served: Any) -> None:
    import sqlite3

    with sqlite3.connect(served.path) as rows:
        rows.execute("PRAGMA ignore_check_constraints = ON")
        rows.execute("UPDATE pipes SET diameter_mm = 0")
    page = served.who("Vera").get(f"/film?night={NIGHT}&at=1").text
    assert "the pipes cannot be solved" in page
    assert get(served, "frames")["frames"][1]["pressure"] == "–"
