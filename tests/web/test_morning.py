"""At dawn: did it run, and what to rescue before play."""

from __future__ import annotations

import re
from html import unescape
from typing import Any

import pytest

NIGHT = "2026-07-14"


def night_id(served: Any) -> str:
    from datetime import date

    from nightwater.desk.course import open_course
    from nightwater.desk.nights import stored_night

    with open_course(served.path) as course:
        found = stored_night(course, date.fromisoformat(NIGHT))
    assert found is not None
    return found.id


@pytest.fixture
def approved(served: Any, as_demo: Any) -> Any:
    as_demo(served)
    served.who("Ines").post("/tonight/approve", night_id=night_id(served))
    return served


def rehearse(served: Any, name: str = "Ines", **faults: str) -> Any:
    return served.who(name).post("/morning/rehearse", night_id=night_id(served), **faults)


def words(page: str) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", page).split())


def test_without_an_approved_night_there_is_nothing_to_prove(served: Any) -> None:
    page = served.who("Pilar").get(f"/morning?night={NIGHT}").text
    assert "No night is approved for Tue 14 July 2026" in page
    assert f"/tonight?night={NIGHT}" in page


def test_the_page_opens_on_last_night(served: Any) -> None:
    assert "after the night of Mon 13 July 2026" in words(served.who("Pilar").get("/morning").text)


def test_a_quiet_rehearsal_ran(approved: Any) -> None:
    answer = rehearse(approved)
    assert answer.headers["location"] == f"/morning?night={NIGHT}"
    page = approved.who("Pilar").get(f"/morning?night={NIGHT}").text
    assert '<p class="word">It ran</p>' in page
    assert "44 stations ran." in words(page)
    assert "Nothing needs rescue before the first tee" in page
    assert 'class="verdict-mark verdict-green"' in page


def test_totals_stand_side_by_side_with_their_evidence(approved: Any) -> None:
    rehearse(approved)
    text = words(approved.who("Pilar").get(f"/morning?night={NIGHT}").text)
    found = re.search(
        r"Planned \(computed\) ([\d,]+) gal Commanded \(observed\) ([\d,]+) gal "
        r"Metered \(observed\) ([\d,]+) gal",
        text,
    )
    assert found is not None, text[:900]
    planned, commanded, metered = (int(n.replace(",", "")) for n in found.groups())
    assert commanded == pytest.approx(planned, rel=0.02)
    assert metered == pytest.approx(planned, rel=0.05)


@pytest.fixture
def tripped(approved: Any) -> Any:
    """The pumps tripped soon after the night began and never came back."""
    from nightwater.desk.course import open_course
    from nightwater.desk.nights import night_by_id
    from nightwater.desk.sheet import clock

    with open_course(approved.path) as course:
        plan = night_by_id(course, night_id(approved)).plan
    rehearse(approved, pump_trip_at=clock(plan, 20, "America/Denver"))
    return approved


def test_a_tripped_pump_is_red_with_word_shape_and_rescue_list(tripped: Any) -> None:
    page = tripped.who("Pilar").get(f"/morning?night={NIGHT}").text
    text = words(page)
    assert "Some stations got no water" in text
    assert 'class="verdict-mark verdict-red"' in page
    assert "no water" in text
    assert "Rescue before the first tee" in text
    assert "Caution." in text
    assert "water starts only after a person on site confirms that nobody is there" in text


def test_the_rescue_list_serves_greens_first_and_says_what_comes_too_late(tripped: Any) -> None:
    page = tripped.who("Pilar").get(f"/morning?night={NIGHT}").text
    rescue = re.search(r'id="rescue".*?</section>', page, re.S)
    assert rescue is not None
    kinds = re.findall(r"kind-mark kind-(\w+)", rescue.group())
    order = ["green", "tee", "approach", "fairway", "rough"]
    assert kinds == sorted(kinds, key=order.index)
    assert kinds
    lines = re.findall(r"<td[^>]*>(yes|not before play: hand-water)</td>", rescue.group())
    assert len(lines) == len(kinds)


def test_the_rescue_list_gives_start_times_and_a_page_to_walk(tripped: Any) -> None:
    page = tripped.who("Pilar").get(f"/morning?night={NIGHT}").text
    starts = re.findall(r'data-name="May start">(\d\d:\d\d)<', page)
    ends = re.findall(r'data-name="Done by">(\d\d:\d\d)<', page)
    assert len(starts) == len(ends) == 12
    assert all(start < end for start, end in zip(starts, ends, strict=True))
    first = re.search(r'name="begin" value="(\d\d:\d\d)"', page)
    assert first is not None
    assert min(starts) == first.group(1)
    answer = tripped.who("Pilar").get(f"/morning/rescue.pdf?night={NIGHT}&begin=05:30")
    assert answer.headers["content-type"] == "application/pdf"
    assert answer.content.startswith(b"%PDF")
    assert tripped.who("Pilar").get(f"/morning/rescue.pdf?night={NIGHT}&begin=x").status_code == 400


def test_a_night_without_proof_has_no_page_to_walk(approved: Any) -> None:
    assert approved.who("Pilar").get(f"/morning/rescue.pdf?night={NIGHT}").status_code == 404


def test_what_the_whole_night_suffered_from_stands_in_the_verdict(tripped: Any) -> None:
    page = tripped.who("Pilar").get(f"/morning?night={NIGHT}").text
    verdict = re.search(r'<section class="verdict.*?</section>', page, re.S)
    assert verdict is not None
    assert "no water flowed" in verdict.group()
    assert "does not show that every head turned" not in verdict.group()


def test_a_long_rescue_list_is_shown_whole_on_demand(tripped: Any) -> None:
    def lines(address: str) -> int:
        page = tripped.who("Pilar").get(address).text
        rescue = re.search(r'id="rescue".*?</section>', page, re.S)
        assert rescue is not None
        return rescue.group().count('data-name="Order"')

    short = lines(f"/morning?night={NIGHT}")
    assert short == 12 < lines(f"/morning?night={NIGHT}&all=1")


def test_green_says_what_it_does_not_prove(approved: Any) -> None:
    rehearse(approved)
    assert (
        "does not show that every head turned"
        in approved.who("Pilar").get(f"/morning?night={NIGHT}").text
    )


def test_the_table_is_filtered_by_verdict_and_words(tripped: Any) -> None:
    pilar = tripped.who("Pilar")
    red = pilar.get(f"/morning?night={NIGHT}&verdict=red&all=1").text
    rows = re.findall(r'verdict-cell">\s*<svg class="verdict-mark verdict-(\w+)"', red)
    assert set(rows) == {"red"}
    rough = pilar.get(f"/morning?night={NIGHT}&q=rough+1&all=1").text
    cells = re.findall(r'class="col-area">\s*<svg class="kind-mark kind-(\w+)"', rough)
    assert set(cells) == {"rough"}


def test_the_worst_stands_first(tripped: Any) -> None:
    page = tripped.who("Pilar").get(f"/morning?night={NIGHT}&all=1").text
    rows = re.findall(r'verdict-cell">\s*<svg class="verdict-mark verdict-(\w+)"', page)
    assert rows == sorted(rows, key=["red", "amber", "green"].index)
    assert len(rows) == 44


def test_the_map_and_the_chart_tell_the_same(tripped: Any) -> None:
    pilar = tripped.who("Pilar")
    stations = pilar.get(f"/morning/values.json?night={NIGHT}").json()["shown"]["verdict"][
        "stations"
    ]
    assert set(stations.values()) <= {"green", "amber", "red"}
    assert len(stations) == 44
    spec = pilar.get(f"/morning/flow.json?night={NIGHT}").json()
    rows = next(values for values in spec["datasets"].values())
    late = [row for row in rows if row["minute"] > 40]
    assert all(row["metered"] < 5 for row in late)
    assert max(row["planned"] for row in late) > 100


def test_faults_are_checked_before_anything_runs(approved: Any) -> None:
    answer = rehearse(approved, dead_stations="F004 nope")
    assert answer.status_code == 400
    assert "There is no station 'nope'" in unescape(answer.text)
    assert rehearse(approved, pump_trip_at="half past").status_code == 400
    assert rehearse(approved, leak="-3").status_code == 400
    assert rehearse(approved, stuck_stations="nope").status_code == 400
    assert rehearse(approved, pump_percent="140").status_code == 400


def test_a_dead_station_may_be_named_by_its_label(approved: Any) -> None:
    assert rehearse(approved, dead_stations="F004, S-F005").status_code == 303


def test_pumps_that_hold_less_and_stations_that_stick_show_at_dawn(approved: Any) -> None:
    answer = rehearse(approved, pump_percent="30", stuck_stations="F004")
    assert answer.status_code == 303
    page = approved.who("Pilar").get(f"/morning?night={NIGHT}").text
    assert '<p class="word">It ran</p>' not in page


@pytest.mark.parametrize("name", ["Pilar", "Vera"])
def test_crew_and_viewers_may_not_rehearse_or_prove(approved: Any, name: str) -> None:
    page = approved.who(name).get(f"/morning?night={NIGHT}").text
    assert "Only an owner or a planner may rehearse a night" in page
    assert rehearse(approved, name).status_code == 403
    assert approved.who(name).post("/morning/prove", night=NIGHT).status_code == 403


def test_a_real_course_is_never_rehearsed_from_the_page(served: Any) -> None:
    served.who("Ines").post("/tonight/approve", night_id=night_id(served))
    page = served.who("Ines").get(f"/morning?night={NIGHT}").text
    assert "offered in a demo course only" in page
    assert rehearse(served).status_code == 404


def test_a_night_without_proof_has_no_chart(approved: Any) -> None:
    assert approved.who("Ines").get(f"/morning/flow.json?night={NIGHT}").status_code == 404
