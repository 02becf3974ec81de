"""The Pressures page: a minute of a night, or stations that somebody names."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime
from typing import Any

from nightwater.desk.choosing import change_settings
from nightwater.desk.course import open_course

NIGHT = "2026-07-14"
AFTERNOON = datetime(2026, 7, 14, 21, tzinfo=UTC)


def first_run(served: Any) -> Any:
    from nightwater.desk.nights import stored_night

    with open_course(served.path) as course:
        stored = stored_night(course, date.fromisoformat(NIGHT))
    assert stored is not None
    start = stored.plan.window.start.hour * 60 + stored.plan.window.start.minute
    minute = stored.plan.runs[0].start_min
    open_now = {
        r.station for r in stored.plan.runs if r.start_min <= minute < r.start_min + r.run_min
    }
    clock = (start + minute) % 1440
    return f"{clock // 60:02d}:{clock % 60:02d}", open_now


def test_the_bare_page_asks(served: Any) -> None:
    page = served.who("Vera").get("/pressures")
    assert page.status_code == 200
    assert "no valve opens by it" in page.text
    assert "<table" not in page.text


def test_a_minute_of_the_night_is_answered(served: Any) -> None:
    clock, open_now = first_run(served)
    page = served.who("Vera").get(f"/pressures?night={NIGHT}&at={clock}").text
    rows = re.findall(r'<a href="/ground\?subject=heads:([^#]+)#map">', page)
    with open_course(served.path) as course:
        station_of = course.ground.heads["station"]
    assert set(station_of[rows]) == open_now
    assert "has its pressure" in page
    assert re.search(r"[\d.]+ kW <small>they hold their pressure", page)
    document = served.who("Vera").get(f"/pressures/values.json?night={NIGHT}&at={clock}").json()
    assert document["shown"]["now"]["stations"] == dict.fromkeys(open_now, "open")


def test_stations_are_named_by_id_or_label(served: Any) -> None:
    one, label = served.who("Vera").get("/pressures?stations=S-F000"), "F000"
    assert one.status_code == 200
    other = served.who("Vera").get(f"/pressures?stations={label}")
    assert re.findall(r'class="number">([^<]+)<', one.text) == re.findall(
        r'class="number">([^<]+)<', other.text
    )


def test_what_cannot_be_answered_is_told_beside_the_form(served: Any) -> None:
    unknown = served.who("Vera").get("/pressures?stations=nowhere")
    assert unknown.status_code == 422
    assert "There is no station" in unknown.text
    assert 'value="nowhere"' in unknown.text
    noon = served.who("Vera").get(f"/pressures?night={NIGHT}&at=12:00")
    assert "Nothing runs at 12:00" in noon.text
    assert served.who("Vera").get("/pressures?stations=%20,%20").status_code == 422


def test_stations_short_of_pressure_are_told_and_drawn(served: Any) -> None:
    with open_course(served.path) as course:
        change_settings(course, {"night.least_head_kpa": "757.9"}, "Ines", "hard heads", AFTERNOON)
    page = served.who("Vera").get("/pressures?stations=S-F000").text
    assert "1 of 1 open head: less pressure than it should be" in page
    assert "too low" in page
    document = served.who("Vera").get("/pressures/values.json?stations=S-F000").json()
    assert document["shown"]["now"]["stations"] == {"S-F000": "short"}
