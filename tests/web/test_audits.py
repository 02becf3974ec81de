"""Tomas plans an audit, Pilar reads its cans on her phone, Ines accepts what it says."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, date, datetime
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest

NIGHT = date(2026, 7, 14)


def planned(served: Any, **more: str) -> str:
    form = {"area": "A-G", "cans": "30", "opening": "11", "opening_unit": "cm"} | more
    answer = served.who("Tomas").post("/audits/plan", **form)
    assert answer.status_code == 303, re.findall(r'role="alert">(.*?)<', answer.text)
    return str(answer.headers["location"])


def rates(served: Any, audit: str) -> dict[str, float]:
    """What the record's patterns give at each can [mm/h]."""
    from nightwater.desk.audit_results import audit_result
    from nightwater.desk.course import open_course

    with open_course(served.path) as course:
        cans = audit_result(course, audit.rpartition("/")[2]).cans
        return dict(zip(cans["label"], cans["computed_mm_h"], strict=True))


def read_all(served: Any, audit: str, *, uneven: float = 0.0) -> None:
    """Every can read by Pilar: a fixed rate, falling evenly from the first can to the last."""
    pilar = served.who("Pilar")
    pilar.post(f"{audit}/facts", run_min="15", opening="11", opening_unit="cm")
    labels = list(rates(served, audit))
    for label, share in zip(labels, np.linspace(1 + uneven, 1 - uneven, len(labels)), strict=True):
        answer = pilar.post(f"{audit}/enter", can=label, caught=f"{40 * share:.0f}")
        assert answer.status_code == 303


def read_short(served: Any, audit: str, head: str) -> None:
    """Every can read by Pilar as it would be if one head threw a quarter less far."""
    from nightwater.desk.audit_cans import opening_m2
    from nightwater.desk.audit_kept import audit_of
    from nightwater.desk.audit_results import patterns_of
    from nightwater.desk.course import open_course
    from nightwater.spray.point_rate import point_rate_mm_h

    with open_course(served.path) as course:
        kept = audit_of(course, audit.rpartition("/")[2])
        patterns, _ = patterns_of(course, kept)
    short = np.where(patterns.ids == head, 0.75, 1.0)
    truth = replace(patterns, radius_m=patterns.radius_m * short)
    rate = point_rate_mm_h(truth, kept.cans["x_m"], kept.cans["y_m"]).sum(axis=1)
    caught = rate * 15 / 60 * opening_m2(11, "cm") * 1000
    pilar = served.who("Pilar")
    pilar.post(f"{audit}/facts", run_min="15", opening="11", opening_unit="cm")
    for label, value in zip(kept.cans["label"], caught, strict=True):
        assert pilar.post(f"{audit}/enter", can=label, caught=f"{value:.1f}").status_code == 303


def test_a_plan_needs_the_unit_of_the_opening(served: Any) -> None:
    answer = served.who("Tomas").post("/audits/plan", area="A-G", cans="30", opening="11")
    assert answer.status_code == 200
    assert "its area in cm2 or in2, or its diameter" in answer.text
    assert 'value="11"' in answer.text  # what was written is still there


def test_a_plan_leads_to_its_page_with_card_and_caution(served: Any) -> None:
    audit = planned(served)
    page = served.who("Vera").get(audit).text
    assert "clear of people" in page
    assert "at most 5 mph" in page
    assert page.count('class="can-number') >= 24
    card = served.who("Vera").get(f"{audit}/card.pdf")
    assert card.headers["content-type"] == "application/pdf"
    assert card.content.startswith(b"%PDF")


def test_cans_follow_each_other_on_the_phone(served: Any) -> None:
    audit, pilar = planned(served), served.who("Pilar")
    page = pilar.get(f"{audit}/enter").text
    assert 'inputmode="decimal"' in page
    assert re.search(r"<h1[^>]*>Can 1 <small>0 of", page)
    answer = pilar.post(f"{audit}/enter", can="1", caught="41,5")  # a comma is a point
    assert answer.headers["location"] == f"{audit}/enter?can=2"
    assert "recorded: 41.5" in pilar.get(f"{audit}/enter?can=1").text


def test_what_is_no_number_stays_in_the_field(served: Any) -> None:
    audit, pilar = planned(served), served.who("Pilar")
    page = pilar.post(f"{audit}/enter", can="3", caught="4o").text
    assert "is no number for can 3" in page
    assert 'value="4o"' in page
    page = pilar.post(f"{audit}/enter", can="3", caught="").text
    assert "0 where it is dry" in page


def test_a_correction_keeps_what_was_read_before(served: Any) -> None:
    audit, pilar = planned(served), served.who("Pilar")
    pilar.post(f"{audit}/enter", can="1", caught="41")
    served.who("Tomas").post(f"{audit}/enter", can="1", caught="14")
    page = pilar.get(audit).text
    assert "Tomas: caught_ml was 41.0, now 14.0" in page


def test_a_can_is_left_out_only_with_a_reason(served: Any) -> None:
    audit, pilar = planned(served), served.who("Pilar")
    read_all(served, audit)
    assert pilar.post(f"{audit}/leave", can="2", reason=" ").status_code == 400
    pilar.post(f"{audit}/leave", can="2", reason="kicked over")
    assert "left out: kicked over (Pilar)" in pilar.get(audit).text
    pilar.post(f"{audit}/leave", can="2", back="yes")
    assert "left out: kicked over" not in pilar.get(audit).text


def test_a_file_is_asked_for_its_unit(served: Any) -> None:
    audit, pilar = planned(served), served.who("Pilar")
    token = pilar.token()
    sent = pilar.client.post(
        f"{audit}/file",
        data={"token": token},
        files={"file": ("cans.csv", b"Can,Catch\n1,40\n2,38\n", "text/csv")},
        headers={"sec-fetch-site": "same-origin"},
    )
    where = sent.headers["location"]
    page = pilar.get(where).text
    assert re.search(r'<option value="Can" selected>', page)
    assert "say the unit" in page
    refused = pilar.post(where, can="Can", caught="Catch", unit="")
    assert "Say in what the catches are" in refused.text
    assert pilar.post(where, can="Can", caught="Catch", unit="mL").status_code == 303
    assert "2 of" in pilar.get(audit).text


def test_accepting_changes_the_record_and_tonight_at_once(served: Any) -> None:
    from nightwater.desk.course import open_course
    from nightwater.desk.planning import plan

    def green() -> tuple[float, float]:
        """Minutes of the green's stations tonight, and the uniformity that their sums state."""
        with open_course(served.path) as course:
            made = plan(course, NIGHT, who="Tomas", now=served.clock()).plan
            sums = [one for one in made.sums if one.area == "A-G"]
        return sum(one.exact_min for one in sums), sums[0].du_lq

    audit = planned(served, cans="80")
    read_short(served, audit, "H-G0")
    page = served.who("Ines").get(audit).text
    stamp = re.search(r'name="stamp" value="(\w+)"', page)
    assert stamp is not None
    assert 'value="areas:A-G:du_lq" checked' in page
    parts = re.findall(r'name="part" value="([^"]+)"', page)
    heads = [part for part in parts if part.startswith("heads:")]
    assert "heads:H-G0:radius" in heads
    minutes, uniformity = green()
    assert uniformity == 0.7
    answer = served.who("Ines").post(f"{audit}/accept", stamp=stamp.group(1), part=parts)
    assert answer.status_code == 303
    with open_course(served.path) as course:
        measured = course.ground.areas.at["A-G", "du_lq"]
        head = course.ground.heads.loc["H-G0"]
        nozzle = course.ground.nozzles.loc[head["nozzle"]]
        assert head["measured_radius_m"] == pytest.approx(0.75 * nozzle["radius_m"], rel=0.1)
    assert measured != 0.7
    after, uniformity = green()
    assert uniformity == pytest.approx(measured)
    assert after != minutes  # minutes follow the map, and the map follows the heads
    assert served.who("Pilar").post(f"{audit}/enter", can="1", caught="9").status_code == 200
    assert "stays as it is" in served.who("Pilar").post(f"{audit}/enter", can="1", caught="9").text


def test_a_proposal_that_changed_meanwhile_is_not_accepted(served: Any) -> None:
    audit = planned(served)
    read_all(served, audit, uneven=0.4)
    page = served.who("Ines").get(audit).text
    stamp = re.search(r'name="stamp" value="(\w+)"', page)
    assert stamp is not None
    served.who("Pilar").post(f"{audit}/enter", can="1", caught="10")
    answer = served.who("Ines").post(
        f"{audit}/accept", stamp=stamp.group(1), part=["areas:A-G:du_lq"]
    )
    assert answer.status_code == 409


def test_roles(served: Any) -> None:
    audit = planned(served)
    assert served.who("Vera").post(f"{audit}/enter", can="1", caught="4").status_code == 403
    assert served.who("Pilar").post(f"{audit}/accept", stamp="", part=["x"]).status_code == 403
    page = served.who("Vera").get("/audits").text
    assert "your role is viewer" in page


def sent_file(served: Any, audit: str, text: bytes, who: str = "Pilar") -> str:
    """A file of cans sent in; where its columns are asked for."""
    visitor = served.who(who)
    answer = visitor.client.post(
        f"{audit}/file",
        data={"token": visitor.token()},
        files={"file": ("cans.csv", text, "text/csv")},
        headers={"sec-fetch-site": "same-origin"},
    )
    assert answer.status_code == 303, answer.text
    return str(answer.headers["location"])


def chosen(page: str, name: str) -> str:
    """What stands chosen in a form's list."""
    found = re.search(rf'<select name="{name}"[^>]*>(.*?)</select>', page, re.S)
    assert found is not None
    option = re.search(r"<option([^>]*) selected>([^<]*)", found.group(1))
    value = re.search(r'value="([^"]*)"', option.group(1)) if option else None
    return value.group(1) if value else option.group(2).strip() if option else ""


def test_columns_are_remembered_for_the_next_file_of_the_kind(served: Any) -> None:
    audit = planned(served)
    where = sent_file(served, audit, b"Spot,Result\n1,0.5\n2,0.6\n")
    page = served.who("Pilar").get(where).text
    assert (chosen(page, "can"), chosen(page, "caught"), chosen(page, "unit")) == ("", "", "")
    assert "As it was said of the last file" not in page
    said = {"can": "Spot", "caught": "Result", "unit": "in"}
    assert served.who("Pilar").post(where, **said).status_code == 303
    again = sent_file(served, planned(served), b"Spot,Result\n1,0.4\n", "Tomas")
    page = served.who("Tomas").get(again).text
    assert (chosen(page, "can"), chosen(page, "caught"), chosen(page, "unit")) == (
        "Spot", "Result", "in",
    )  # fmt: skip
    assert "As it was said of the last file" in page


def test_a_refused_file_keeps_what_was_said_and_nothing_else(served: Any) -> None:
    audit = planned(served)
    where = sent_file(served, audit, b"Spot,Result\n1,0.5\n1,0.6\n")
    page = served.who("Pilar").post(where, can="Spot", caught="Result", unit="in").text
    assert "can 1 stands there twice" in page
    assert (chosen(page, "can"), chosen(page, "unit")) == ("Spot", "in")
    assert "0 of" in served.who("Pilar").get(audit).text


def observed(served: Any, **more: Any) -> None:
    """An observed hour from 11:00 UTC, 3 m/s at 10 m unless told otherwise."""
    from nightwater.desk.course import open_course

    usual = {
        "step": "hour",
        "origin": "observed",
        "time": "2026-07-14T11:00:00Z",
        "wind_m_s": 3.0,
        "wind_height_m": 10.0,
    }
    with open_course(served.path) as course:
        rows = pd.DataFrame([usual | more], index=pd.Index(["wind-hour"], name="id"))
        course.file.append("weather", rows)


def local_1140(served: Any) -> str:
    """11:40 UTC by the course's clock, as a form writes it."""
    from nightwater.desk.course import open_course

    with open_course(served.path) as course:
        zone = ZoneInfo(course.settings.site.timezone)
    return datetime(2026, 7, 14, 11, 40, tzinfo=UTC).astimezone(zone).strftime("%Y-%m-%dT%H:%M")


def field_of(page: str, name: str) -> str:
    found = re.search(rf'name="{name}" value="([^"]*)"', page)
    assert found is not None
    return found.group(1)


def kept_wind(served: Any, audit: str) -> Any:
    from nightwater.desk.audit_kept import audit_of
    from nightwater.desk.course import open_course

    with open_course(served.path) as course:
        return audit_of(course, audit.rpartition("/")[2]).facts["wind_m_s"]


def test_observed_wind_is_a_proposal_in_the_form(served: Any) -> None:
    """3 m/s at 10 m are 2.24 m/s at 2 m (FAO-56 equation 47), 5.02 mph."""
    observed(served)
    audit, pilar = planned(served), served.who("Pilar")
    assert "observed:" not in pilar.get(audit).text  # no time, no hour
    pilar.post(f"{audit}/facts", time=local_1140(served))
    page = pilar.get(audit).text
    assert float(field_of(page, "wind")) == pytest.approx(5.02, abs=0.02)
    assert chosen(page, "wind_unit") == "mph"
    assert "observed: mean of the hour from" in page
    assert "brought to 2 m" in page
    assert kept_wind(served, audit) is None  # only looked at
    assert "audit-windy" not in page
    pilar.post(
        f"{audit}/facts", time=local_1140(served), wind=field_of(page, "wind"), wind_unit="mph"
    )
    assert kept_wind(served, audit) == pytest.approx(2.24, abs=0.01)
    assert "observed: mean of the hour" not in pilar.get(audit).text


def test_a_wind_that_a_person_entered_stays(served: Any) -> None:
    observed(served)
    audit, pilar = planned(served), served.who("Pilar")
    pilar.post(f"{audit}/facts", time=local_1140(served), wind="0", wind_unit="m/s")
    page = pilar.get(audit).text
    assert field_of(page, "wind") == "0"
    assert "observed: mean of the hour" not in page


def test_forecasts_are_not_proposed(served: Any) -> None:
    observed(served, origin="forecast")
    audit, pilar = planned(served), served.who("Pilar")
    pilar.post(f"{audit}/facts", time=local_1140(served))
    assert field_of(pilar.get(audit).text, "wind") == ""


def test_coverage_and_audits_lead_to_each_other(served: Any) -> None:
    vera, audit = served.who("Vera"), planned(served)
    assert 'href="/coverage?area=A-G#spot-title"' in vera.get(audit).text
    assert 'href="/coverage"' in vera.get("/audits").text
    page = vera.get("/coverage?area=A-G").text
    assert 'href="/audits"' in page
    panel = vera.get("/coverage?area=A-G&whole=true").text
    assert 'href="/audits?area=A-G"' in panel
    assert chosen(vera.get("/audits?area=A-G").text, "area") == "A-G"


@pytest.mark.parametrize(
    ("form", "told"),
    [
        ({"run_min": "ten"}, "is no number for the minutes"),
        ({"wind": "3"}, "Say the unit of the wind: mph, m/s, km/h"),
        ({"pressure": "70", "pressure_unit": "atm"}, "Say the unit of the pressure"),
        ({"opening": "11"}, "its area in cm2 or in2"),
        ({"time": "this morning"}, "is no date and time"),
        ({"wind": "99", "wind_unit": "m/s"}, "it goes from 0 to 30"),
        ({"wind_from_deg": "-5"}, "it goes from 0 to 360"),
    ],
)
def test_facts_without_sense_or_unit_are_refused(
    served: Any, form: dict[str, str], told: str
) -> None:
    audit = planned(served)
    answer = served.who("Pilar").post(f"{audit}/facts", **form)
    assert answer.status_code == 400
    assert told in answer.text


def test_facts_come_back_in_the_reader_s_units(served: Any) -> None:
    audit, pilar = planned(served), served.who("Pilar")
    pilar.post(
        f"{audit}/facts", run_min="15,5", opening="11", opening_unit="cm", wind="9",
        wind_unit="km/h", pressure="4.8", pressure_unit="bar", wind_from_deg="225",
    )  # fmt: skip
    page = pilar.get(audit).text
    assert field_of(page, "run_min") == "15.5"
    assert float(field_of(page, "opening")) == pytest.approx(95.033 / 6.4516, abs=0.001)  # in²
    assert float(field_of(page, "wind")) == pytest.approx(2.5 / 0.44704, abs=0.001)  # mph
    assert float(field_of(page, "pressure")) == pytest.approx(480 / 6.894757, abs=0.01)  # psi
    assert "wind over" in page.lower() or "audit-windy" in page


@pytest.mark.parametrize(
    ("form", "told"),
    [
        ({"area": "A-X"}, "There is no area"),
        ({"cans": "12"}, "24 to 200 cans"),
        ({"cans": "many"}, "is no number for the number of cans"),
        ({"stations": "S-X"}, "No station is called"),
        ({"opening": "300"}, "is no can"),
    ],
)
def test_a_plan_that_cannot_be_says_why(served: Any, form: dict[str, str], told: str) -> None:
    usual = {"area": "A-G", "cans": "30", "opening": "11", "opening_unit": "cm"}
    answer = served.who("Tomas").post("/audits/plan", **(usual | form))
    assert answer.status_code == 200
    assert told in answer.text
    assert "None yet" in answer.text


def test_an_audit_that_is_not_there(served: Any) -> None:
    for path in ("/audits/AU9", "/audits/AU9/card.pdf", "/audits/AU9/enter"):
        assert served.who("Vera").get(path).status_code == 404


def test_the_last_can_leads_to_the_result(served: Any) -> None:
    audit, pilar = planned(served), served.who("Pilar")
    labels = list(rates(served, audit))
    for label in labels[:-1]:
        pilar.post(f"{audit}/enter", can=label, caught="30")
    assert pilar.post(f"{audit}/enter", can=labels[-1], caught="30").headers["location"] == audit


def test_a_can_passed_over_comes_last(served: Any) -> None:
    audit, pilar = planned(served), served.who("Pilar")
    labels = list(rates(served, audit))
    for label in labels[1:-1]:
        pilar.post(f"{audit}/enter", can=label, caught="30")
    last = pilar.post(f"{audit}/enter", can=labels[-1], caught="30")
    assert last.headers["location"] == f"{audit}/enter?can={labels[0]}"
