"""Ines looks at tonight, finds a station, redoes its sum, and approves."""

from __future__ import annotations

import json
import re
from typing import Any

import pytest

NIGHT = "2026-07-14"


def stored(served: Any) -> Any:
    from datetime import date

    from nightwater.desk.course import open_course
    from nightwater.desk.nights import stored_night

    with open_course(served.path) as course:
        return stored_night(course, date.fromisoformat(NIGHT))


def labels(page: str) -> list[str]:
    return re.findall(r'title="\d+ (?:of \d+ )?min[^"]*">([^<]+)<', page)


def approve(served: Any, name: str = "Ines") -> Any:
    return served.who(name).post("/tonight/approve", night_id=stored(served).id)


def test_the_page_says_when_it_ends_and_that_no_plan_can_end_before(served: Any) -> None:
    from nightwater.desk.sheet import clock

    page, plan = served.who("Ines").get("/tonight").text, stored(served).plan
    zone = "America/Denver"
    words = " ".join(re.sub(r"<[^>]+>", "", page).split())
    assert f"to {clock(plan, plan.finish_min, zone)}; no plan can finish before" in words
    assert f"before {clock(plan, plan.bound.minutes, zone)}" in words
    assert "what the pumps may give" in words
    assert "water starts only after a person confirms" in words


def test_figures_carry_their_unit_and_how_they_are_known(served: Any) -> None:
    page = served.who("Ines").get("/tonight").text
    gallons = stored(served).plan.volume_m3 * 264.172052
    assert f"{gallons:,.0f} gal" in page
    assert 'class="mark computed"' in page
    assert "(computed)" in page  # also for those who do not see the mark


def test_a_word_and_a_number_find_a_kind_on_a_hole(served: Any) -> None:
    ines = served.who("Ines")
    everything = labels(ines.get("/tonight?all=1").text)
    fairway = labels(ines.get("/tonight?q=fairway+1").text)
    assert len(everything) == 44
    assert len(fairway) == 26
    assert all(label.startswith("F") for label in fairway)
    assert sorted(labels(ines.get("/tonight?kind=green&hole=1").text)) == ["G0", "G1", "G2", "G3"]
    nothing = ines.get("/tonight?q=fairway+9").text
    assert labels(nothing) == []
    assert "No station fits" in nothing


def test_the_filter_stands_in_the_address_and_in_the_form(served: Any) -> None:
    page = served.who("Ines").get("/tonight?q=green&kind=green&hole=1&sort=minutes").text
    assert 'name="q" value="green"' in page
    assert "<option selected>green</option>" in page
    assert "<option selected>1</option>" in page
    assert 'name="sort" value="minutes"' in page
    assert 'aria-sort="descending"' in page


def test_a_fragment_is_the_same_table_as_on_the_page(served: Any) -> None:
    ines = served.who("Ines")
    part = ines.get("/tonight?q=tee", headers={"HX-Request": "true", "HX-Request-Type": "partial"})
    assert part.text.strip().startswith('<div id="stations">')
    assert "<html" not in part.text
    assert part.text.strip() in ines.get("/tonight?q=tee").text


def test_sorting_by_minutes_puts_the_longest_first(served: Any) -> None:
    page = served.who("Ines").get("/tonight?sort=minutes&all=1").text
    minutes = [int(m) for m in re.findall(r'col-minutes number">(\d+)', page)]
    assert minutes == sorted(minutes, reverse=True)
    assert len(set(minutes)) > 1


def test_a_station_opens_to_every_factor_and_the_sum_can_be_redone_by_hand(served: Any) -> None:
    item = next(i for i in stored(served).plan.sums if i.station == "S-F004")
    page = served.who("Ines").get(f"/tonight/sum?night={NIGHT}&subject=stations:S-F004").text
    text = " ".join(re.sub(r"<[^>]+>", " ", page).split())
    line = re.search(
        r"60 × ([\d.]+) in ÷ ([\d.]+) in/h × ([\d.]+) × ([\d.]+) = ([\d.]+) min, rounded to (\d+)",
        text,
    )
    assert line is not None, text
    need, rate, multiplier, trim, exact, run = map(float, line.groups())
    assert 60 * need / rate * multiplier * trim == pytest.approx(exact, rel=2e-3)
    assert run == item.run_min
    for word in (
        "Uniformity DUlq",
        "Run-time multiplier",
        "fitted to the map",
        "Need of the ground it wets",
        "Reference ET",
    ):
        assert word in text
    assert f"{len(item.cycles_min)} cycles of" in text


def test_the_sum_is_a_part_for_the_table_and_a_page_without_script(served: Any) -> None:
    ines, address = served.who("Ines"), f"/tonight/sum?night={NIGHT}&subject=stations:S-T"
    part = ines.get(address, headers={"HX-Request-Type": "partial"}).text
    assert part.strip().startswith("<article")
    page = ines.get(address).text
    assert "<html" in page
    assert part.strip() in page


def test_an_area_opens_to_its_account(served: Any) -> None:
    page = served.who("Ines").get(f"/tonight/sum?night={NIGHT}&subject=areas:A-F").text
    assert "root-zone account" in page
    assert "Crop coefficient" in page


@pytest.mark.parametrize("subject", ["stations:nope", "areas:nope", "heads:H-F000", "rubbish", ""])
def test_no_sum_for_what_the_plan_does_not_have(served: Any, subject: str) -> None:
    answer = served.who("Ines").get(f"/tonight/sum?night={NIGHT}&subject={subject}")
    assert answer.status_code == 404


def test_what_stands_in_the_record_is_shown_as_text_never_as_markup(served: Any) -> None:
    page = served.who("Ines").get("/tonight?q=%3Cscript%3Ealert(1)%3C/script%3E").text
    assert "<script>alert" not in page
    assert "&lt;script&gt;alert" in page


def test_the_chart_adds_up_to_the_plans_flow(served: Any) -> None:
    spec = served.who("Ines").get(f"/tonight/flow.json?night={NIGHT}").json()
    plan = stored(served).plan
    rows = next(
        values for values in spec["datasets"].values() if len(values) == plan.window.minutes
    )
    told = [row["total"] * 3.785411784 / 60 for row in rows]
    assert told == pytest.approx(list(plan.flow_l_s), abs=0.02)
    kinds = spec["usermeta"]["kinds"]
    assert kinds == ["green", "tee", "fairway", "rough"]
    assert all(row["total"] == pytest.approx(sum(row[k] for k in kinds), abs=0.11) for row in rows)


def test_the_map_gets_a_class_and_a_text_for_every_station_and_area(served: Any) -> None:
    values = served.who("Ines").get(f"/tonight/values.json?night={NIGHT}").json()
    assert set(values["shown"]) == {"need", "minutes"}
    assert set(values["shown"]["need"]["areas"]) == {"A-F", "A-G", "A-R", "A-T"}
    assert len(values["shown"]["minutes"]["stations"]) == 44
    assert values["shown"]["minutes"]["areas"] == {}
    assert re.fullmatch(r"Station T: \d+ min, need 0\.\d\d in", values["texts"]["stations:S-T"])


def test_the_legend_speaks_the_readers_unit(served: Any) -> None:
    page = served.who("Ines").get("/tonight").text
    need = re.search(r'data-legend="need".*?</div>', page, re.S)
    assert need is not None
    assert re.findall(r"[\d.]+ – [\d.]+ in<", need.group())
    assert 'data-legend="minutes" hidden' in page
    assert 'data-legend="need" hidden' in served.who("Ines").get("/tonight?colour=minutes").text


def test_ines_approves_and_everybody_reads_who_and_when(served: Any) -> None:
    answer = approve(served)
    assert (answer.status_code, answer.headers["location"]) == (303, f"/tonight?night={NIGHT}")
    page = served.who("Vera").get("/tonight").text
    assert "<b>Approved</b> by Ines, 14 Jul 2026, 15:00" in page
    assert stored(served).approved_by == "Ines"
    again = approve(served)
    assert again.status_code == 400
    assert "approved already" in again.text


def test_a_draft_says_that_controllers_must_not_be_set_from_it(served: Any) -> None:
    assert "must not be set from a draft" in served.who("Pilar").get("/tonight").text


@pytest.mark.parametrize("name", ["Pilar", "Vera"])
def test_crew_and_viewers_read_why_they_may_not_plan_or_approve(served: Any, name: str) -> None:
    visitor = served.who(name)
    page = visitor.get("/tonight").text
    role = {"Pilar": "crew", "Vera": "viewer"}[name]
    assert f"Only an owner or a planner may approve a night; your role is {role}." in page
    assert f"Only an owner or a planner may plan a night; your role is {role}." in page
    assert page.count("disabled aria-describedby=") == 2
    for path, form in (("plan", {"night": NIGHT}), ("approve", {"night_id": "x"})):
        answer = visitor.post(f"/tonight/{path}", **form)
        assert answer.status_code == 403
        assert "Only an owner or a planner" in answer.text
    assert stored(served).state == "draft"


def test_tomas_plans_again_and_gets_a_new_draft(served: Any) -> None:
    before = stored(served)
    approve(served)
    answer = served.who("Tomas").post("/tonight/plan", night=NIGHT)
    assert answer.headers["location"] == f"/tonight?night={NIGHT}"
    after = stored(served)
    assert (after.edition, after.state) == (before.edition + 1, "draft")


def test_the_referees_refusal_stands_beside_the_button_and_holds(served: Any) -> None:
    from datetime import date

    from nightwater.desk.course import open_course

    with open_course(served.path) as course:
        document = json.loads(course.file.nights().iloc[0]["plan"])
        for run in document["runs"]:
            run["start"] = document["runs"][0]["start"]  # all at once: far beyond the pumps
        finding = {"severity": "error", "code": "x", "subject": "pumps:PU1"}
        document["findings"] = [finding | {"message": "The pumps cannot.", "fix": "Plan again."}]
        course.file.save_night(date.fromisoformat(NIGHT), document, served.clock())
    page = served.who("Ines").get("/tonight").text
    assert "The referee refuses this night: The pumps cannot." in page
    assert 'class="main" disabled' in page
    assert approve(served).status_code == 400
    assert stored(served).state == "draft"


def test_a_night_without_plan_offers_to_make_one_and_says_what_is_missing(served: Any) -> None:
    ines = served.who("Ines")
    page = ines.get("/tonight?night=2026-09-01").text
    assert "Nothing is planned for the night of Tue 1 September 2026" in page
    answer = ines.post("/tonight/plan", night="2026-09-01")
    assert answer.status_code == 400
    assert "weather" in answer.text.lower()


@pytest.mark.parametrize(
    ("form", "media_type", "holds"),
    [
        ("pdf", "application/pdf", b"%PDF"),
        ("csv", "text/csv; charset=utf-8", b"night,controller,output"),
        ("json", "application/json", b'"controllers"'),
    ],
)
def test_the_sheet_comes_in_three_forms(
    served: Any, form: str, media_type: str, holds: bytes
) -> None:
    answer = served.who("Pilar").get(f"/tonight/sheet.{form}?night={NIGHT}")
    assert answer.status_code == 200
    assert answer.headers["content-type"] == media_type
    assert holds in answer.content
    assert f"/tonight/sheet.{form}?night={NIGHT}" in served.who("Pilar").get("/tonight").text


def test_there_is_no_other_sheet(served: Any) -> None:
    assert served.who("Pilar").get(f"/tonight/sheet.doc?night={NIGHT}").status_code == 404


@pytest.mark.parametrize("address", ["night=yesterday", "hole=seven", "colour=rainbow"])
def test_an_address_that_makes_no_sense_is_told_in_words(served: Any, address: str) -> None:
    answer = served.who("Ines").get(f"/tonight?{address}")
    assert answer.status_code == 400
    assert address.split("=", maxsplit=1)[0] in answer.text
