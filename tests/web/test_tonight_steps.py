"""The steps of Tonight: conditions, need, minutes, changes; paths and pins."""

from __future__ import annotations

import re
from datetime import date
from typing import Any

import pytest

NIGHT = "2026-07-14"
PART = {"HX-Request": "true", "HX-Request-Type": "partial"}


def words(page: str) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", page).split())


def stored(served: Any) -> Any:
    from nightwater.desk.course import open_course
    from nightwater.desk.nights import stored_night

    with open_course(served.path) as course:
        return stored_night(course, date.fromisoformat(NIGHT))


def approved_and_trimmed(served: Any) -> None:
    """An approved edition, and a draft in which the greens are trimmed to half."""
    from nightwater.desk.approving import approve
    from nightwater.desk.course import open_course
    from nightwater.desk.exceptions import TrimWish, add_trim
    from nightwater.desk.planning import plan

    night = date.fromisoformat(NIGHT)
    with open_course(served.path) as course:
        approve(course, f"{NIGHT}-1", who="Ines", now=served.clock())
        add_trim(course, TrimWish("kind:green", 0.5, 0, night, night, "firm"), who="Ines")
        plan(course, night, who="Ines", now=served.clock())


def test_every_step_has_its_place_and_its_link(served: Any) -> None:
    page = served.who("Ines").get("/tonight").text
    for step in ("conditions", "need", "minutes", "night", "changes", "approve"):
        assert f'href="#{step}"' in page
        assert page.count(f'id="{step}"') == 1


def test_need_and_minutes_are_told_by_kind(served: Any) -> None:
    plan = stored(served).plan
    page = words(served.who("Ines").get("/tonight").text)
    asked = sum(item.run_min for item in plan.sums)
    assert f"{asked:,} min asked" in page
    greens = [item for item in plan.sums if item.kind == "green"]
    assert f"green 4 {sum(item.run_min for item in greens):,} min" in page


def test_conditions_open_to_weather_account_and_holds(served: Any) -> None:
    vera = served.who("Vera")
    whole = vera.get(f"/tonight/conditions?night={NIGHT}").text
    part = vera.get(f"/tonight/conditions?night={NIGHT}", headers=PART).text
    assert "<html" in whole
    assert "<html" not in part
    assert part.strip() in whole
    assert re.search(r"Reference ET of the day.*?0\.\d\d in", words(part))
    assert "Rain of the day" in part
    assert "No hold stands" in part
    assert 'class="mark observed"' in part


def test_before_anything_is_approved_there_is_nothing_to_compare(served: Any) -> None:
    page = words(served.who("Ines").get("/tonight").text)
    assert page.count("No other night was approved yet") == 2  # the step, and beside the button


def test_the_approve_form_names_the_count_and_the_share(served: Any) -> None:
    approved_and_trimmed(served)
    page = served.who("Ines").get("/tonight").text
    form = words(page[page.index('id="approve"') :])
    assert "4 stations change by more than 25 % of their minutes against the approved" in form
    changes = words(page[page.index('id="changes"') : page.index('id="approve"')])
    assert re.search(r"trims 4 −\d+ min −[\d,]+ gal", changes)
    assert "green 4" in changes


def test_an_ordinary_night_is_named_for_what_it_is(served: Any) -> None:
    page = served.who("Ines").get("/tonight?against=ordinary").text
    assert "this night without trims, holds and limits" in words(page)
    assert 'name="against" value="ordinary"' in page  # the filters keep it
    assert served.who("Ines").get("/tonight?against=better").status_code == 400


# Paths


def test_paths_show_when_each_station_runs(served: Any) -> None:
    plan = stored(served).plan
    page = served.who("Vera").get(f"/tonight/paths?night={NIGHT}&all=1").text
    assert page.count("data-station=") == len({run.station for run in plan.runs})
    assert len(re.findall(r'<rect x="\d+" y="2"', page)) == len(plan.runs)
    run = plan.runs[0]
    assert f'<rect x="{run.start_min}" y="2" width="{run.run_min}"' in page
    assert "Only an owner or a planner may plan a night" in page
    assert 'role="slider"' not in page


def test_paths_are_filtered_as_stations_are(served: Any) -> None:
    page = served.who("Ines").get(f"/tonight/paths?night={NIGHT}&q=green").text
    assert page.count("data-station=") == 4
    assert 'role="slider"' in page


def pin(served: Any, where: str, station: str, start: str, who: str = "Ines", **more: Any) -> Any:
    form = {"night_id": stored(served).id, "station": station, "start": start}
    return served.who(who).post(f"/tonight/{where}", **form, **more)


def free_time(served: Any) -> str:
    from nightwater.desk.sheet import clock

    plan = stored(served).plan
    return clock(plan, plan.finish_min + 5, "America/Denver")


def test_a_start_is_tried_as_a_page_and_as_a_part(served: Any) -> None:
    free, before = free_time(served), stored(served).edition
    whole = pin(served, "pin/try", "G0", free)
    assert "<html" in whole.text
    assert "The referee allows it" in whole.text
    headers = {"sec-fetch-site": "same-origin", **PART}
    part = pin(served, "pin/try", "G0", free, headers=headers).text
    assert "<html" not in part
    assert "Pin it there" in part
    assert re.search(r"at most [\d,]+ gpm of [\d,]+ gpm", words(part))
    assert stored(served).edition == before


def test_a_pin_makes_a_new_draft_and_is_listed(served: Any) -> None:
    free = free_time(served)
    answer = pin(served, "pin", "S-G0", free)
    assert answer.status_code == 303
    page = served.who("Ines").get(f"/tonight/paths?night={NIGHT}").text
    assert f"G0 at {free}, by Ines" in words(page)
    assert "1 start pinned by hand" in words(served.who("Ines").get("/tonight").text)
    gone = served.who("Ines").post("/tonight/unpin", night_id=stored(served).id, station="S-G0")
    assert gone.status_code == 303
    assert stored(served).plan.pins == ()


def test_the_rest_is_planned_around_a_pin(served: Any) -> None:
    answer = pin(served, "pin/around", "G0", "23:30")
    assert answer.status_code == 303
    assert [one.station for one in stored(served).plan.pins] == ["S-G0"]


def test_rain_of_a_forecast_is_not_called_observed(served: Any) -> None:
    import pandas as pd

    from nightwater.desk.course import open_course

    address = f"/tonight/conditions?night={NIGHT}"
    with open_course(served.path) as course:
        rows = course.file.running("weather", step="day", time=NIGHT)
        told = pd.DataFrame({"origin": ["forecast"]}, index=pd.Index(rows.index[:1], name="id"))
        course.file.append("weather", told)
    page = words(served.who("Vera").get(address, headers=PART).text)
    assert re.search(r"Rain of the day \(assumed\) 0\.00 in forecast", page)


@pytest.mark.parametrize("where", ["pin", "pin/try", "pin/around"])
def test_only_planners_pin(served: Any, where: str) -> None:
    before = stored(served).edition
    assert pin(served, where, "G0", free_time(served), who="Pilar").status_code == 403
    assert stored(served).edition == before


def test_a_start_outside_the_night_is_refused_in_words(served: Any) -> None:
    answer = pin(served, "pin/try", "G0", "12:00")
    assert answer.status_code == 400
    assert "is not in this night" in answer.text
