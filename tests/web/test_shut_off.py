"""The shut-off and the capacity page, as people of each role get them."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from nightwater.desk.course import open_course
from nightwater.desk.proposing import accept_ground
from nightwater.ground.record import Ground

from .conftest import AFTERNOON


def with_valves(ground: Ground) -> Ground:
    line = ground.pipes.geometry["P-main"].geoms[0]
    places = {"V1": ("isolation", 30), "V2": ("isolation", 230), "D1": ("drain", 380)}
    rows = pd.DataFrame.from_dict(
        {
            n: {"label": n, "kind": k, "open": k != "drain", "geometry": line.interpolate(m)}
            for n, (k, m) in places.items()
        },
        orient="index",
    )
    table = ground.table("valves").reindex(rows.index)
    return ground.with_table("valves", table.assign(**{c: rows[c] for c in rows.columns}))


def place(path: Path, along_m: float) -> str:
    with open_course(path) as course:
        point = course.ground.pipes.geometry["P-main"].geoms[0].interpolate(along_m)
    return f"{point.x:.1f},{point.y:.1f}"


@pytest.fixture
def valved(served: Any) -> Any:
    with open_course(served.path) as course:
        accept_ground(course, with_valves, "Ines", "valves surveyed", AFTERNOON)
    return served


def text_of(answer: Any) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", answer.text).split())


def test_a_pipes_sheet_leads_there_and_other_sheets_do_not(valved: Any) -> None:
    pipe = valved.who("Vera").get("/ground/subject?subject=pipes:P-main").text
    assert "/ground/shut-off?at=pipes%3AP-main" in pipe or "at=pipes:P-main" in pipe
    assert "Fill it at" in pipe
    assert "Break here" not in valved.who("Vera").get("/ground/subject?subject=heads:H-F000").text


@pytest.mark.parametrize("name", ["Ines", "Pilar", "Vera"])
def test_everybody_may_see_what_to_close(valved: Any, name: str) -> None:
    answer = valved.who(name).get(f"/ground/shut-off?at={place(valved.path, 300)}")
    assert answer.status_code == 200
    text = text_of(answer)
    assert "Close V2 ." in text
    assert "230 ft west of the break" in text
    assert "injures" in text


def test_a_stranger_is_sent_to_the_door(valved: Any) -> None:
    assert valved.stranger().get("/ground/shut-off?at=pipes:P-main").status_code == 303


def test_a_stuck_valve_is_passed_over(valved: Any) -> None:
    text = text_of(
        valved.who("Pilar").get(f"/ground/shut-off?at={place(valved.path, 300)}&stuck=V2")
    )
    assert "Close V1 ." in text
    assert "as not closing: V2" in text


def test_the_whole_pipe_says_stop_the_pump_and_offers_parts(valved: Any) -> None:
    answer = valved.who("Pilar").get("/ground/shut-off?at=pipes:P-main")
    assert "Stop and lock out PU1" in text_of(answer)
    assert len(set(re.findall(r"at=\d+\.\d%2C\d+\.\d", answer.text))) == 3


def test_the_map_gets_lines_valves_and_the_break(valved: Any) -> None:
    marks = valved.who("Vera").get(f"/ground/shut-off/marks.json?at={place(valved.path, 300)}")
    roles = [mark["role"] for mark in marks.json()["marks"]]
    assert {"broken", "dry-head", "close", "drain", "break"} <= set(roles)
    (close,) = [mark for mark in marks.json()["marks"] if mark["role"] == "close"]
    assert close["subject"] == "valves:V2"


def test_the_card_is_a_pdf(valved: Any) -> None:
    answer = valved.who("Pilar").get("/ground/shut-off/card.pdf?at=pipes:P-main")
    assert answer.headers["content-type"] == "application/pdf"
    assert answer.content.startswith(b"%PDF")


@pytest.mark.parametrize("at", ["nowhere", "0,0", "pipes:X", "heads:H-F000"])
def test_no_place_is_told_in_a_sentence(valved: Any, at: str) -> None:
    answer = valved.who("Pilar").get(f"/ground/shut-off?at={at}")
    assert answer.status_code in (400, 404, 422)
    assert "Traceback" not in answer.text


def test_capacity_asks_before_it_works(served: Any) -> None:
    answer = served.who("Vera").get("/tonight/capacity")
    assert answer.status_code == 200
    assert "What a change would buy" not in answer.text
    assert 'href="/tonight/capacity"' in served.who("Vera").get("/tonight").text


@pytest.mark.parametrize(("unit", "et"), [("us", "0.28"), ("metric", "7,1")])
def test_capacity_of_an_entered_day(served: Any, unit: str, et: str) -> None:
    visitor = served.who("Tomas")
    visitor.post("/choose/units", value=unit)
    text = text_of(visitor.get(f"/tonight/capacity?go=1&et={et}"))
    assert "30 more minutes of night" in text
    assert re.search(r"Reference ET (0\.28 in|7\.1 mm), entered", text)
    pdf = visitor.get(f"/tonight/capacity/study.pdf?et={et}")
    assert pdf.content.startswith(b"%PDF")


def test_capacity_without_enough_weather_says_so(served: Any) -> None:
    answer = served.who("Tomas").get("/tonight/capacity?go=1")
    assert "30 are needed" in text_of(answer)


@pytest.mark.parametrize("query", ["percentile=20", "et=hot", "percentile=101"])
def test_capacity_refuses_what_it_cannot_read(served: Any, query: str) -> None:
    answer = served.who("Tomas").get(f"/tonight/capacity?go=1&{query}")
    assert 400 <= answer.status_code < 500


def test_tonight_tells_energy_before_approval(served: Any) -> None:
    text = text_of(served.who("Vera").get("/tonight?night=2026-07-14"))
    assert re.search(r"About [\d,]+ kWh, \d+ kW at the highest minute", text)
    assert "What it draws and costs" in text
