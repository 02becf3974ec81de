"""The whole round on the command line, as a newcomer runs it."""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Callable
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from nightwater.desk.course import open_course
from nightwater.desk.schema import SCHEMAS
from nightwater.units import from_si

Run = Callable[..., tuple[int, str, str]]
NIGHT = "2026-07-14"
WHEN = ("--first", "2026-07-14", "--last", "2026-07-15", "--why", "x")


def test_help_teaches_and_lists_every_command(run_cli: Run) -> None:
    status, out, _ = run_cli("--help")
    assert status == 0
    for word in ("new", "survey", "need", "plan", "referee", "morning", "ledger"):
        assert re.search(rf"\b{word}\b", out)


def field_logs(plan: dict[str, Any], folder: Path) -> None:
    """What control and meter of a club would write of a night that went as planned."""
    commands = ["time,station,event"]
    for run in plan["runs"]:
        start = datetime.fromisoformat(run["start"])
        end = start + timedelta(minutes=run["run_min"])
        commands += [f"{start:%Y-%m-%dT%H:%M},{run['station']},open"]
        commands += [f"{end:%Y-%m-%dT%H:%M},{run['station']},close"]
    (folder / "control.csv").write_text("\n".join(commands))
    first = datetime.fromisoformat(plan["window"]["start"])
    meter = ["time,Flow (gpm)"]
    for minute, flow_l_s in enumerate(plan["flow_l_s"]):
        gpm = float(from_si(flow_l_s, "gpm"))
        meter += [f"{(first + timedelta(minutes=minute)).isoformat()},{gpm:.2f}"]
    (folder / "meter.csv").write_text("\n".join(meter))


def test_the_round_from_an_empty_file_to_the_ledger(
    run_cli: Run, tmp_path: Path, survey_kit: Any
) -> None:
    course = tmp_path / "my.gpkg"
    place = ("--near", "39.2,-112.0", "--elevation", "1372")
    status, _, err = run_cli("new", course, "--name", "Ours", *place)
    assert (status, "America/Denver" in err, "EPSG:32612" in err) == (0, True, True)
    for name, table in survey_kit.write(tmp_path):
        status, out, err = run_cli("survey", course, tmp_path / name, "--as", table, "--yes")
        assert status == 0, out + err
        assert "Accepted as revision" in err
    (tmp_path / "w.csv").write_text(survey_kit.weather(date(2026, 7, 4), 14))
    assert run_cli("weather", course, tmp_path / "w.csv")[0] == 0
    assert run_cli("check", course, "--format", "json")[0] == 0
    status, planned, _ = run_cli("plan", course, "--night", NIGHT, "--format", "json")
    assert status == 0
    assert run_cli("approve", course, "--night", NIGHT, "--by", "Ines")[0] == 0
    for ending in ("pdf", "csv", "json"):
        out_file = tmp_path / f"sheet.{ending}"
        assert run_cli("sheet", course, "--night", NIGHT, "--out", out_file)[0] == 0
        assert out_file.stat().st_size > 500
    status, _, err = run_cli("rehearse", course, "--night", NIGHT)
    assert (status, "on a copy" in " ".join(err.split())) == (2, True)
    field_logs(json.loads(planned), tmp_path)
    words = ("--night", NIGHT, "--as")
    assert run_cli("log", course, tmp_path / "control.csv", *words, "commands")[0] == 0
    more = ("samples", "--column", "Flow (gpm)=flow_l_s")
    status, out, err = run_cli("log", course, tmp_path / "meter.csv", *words, *more)
    assert (status, f"Kept {len(json.loads(planned)['flow_l_s'])} lines" in err) == (0, True), (
        out + err
    )
    status, out, _ = run_cli("morning", course, "--night", NIGHT)
    assert status == 0
    assert out.startswith("GREEN")
    status, out, _ = run_cli("ledger", course, "--format", "csv")
    rows = list(csv.DictReader(io.StringIO(out)))
    assert [row["night"] for row in rows] == [NIGHT]
    assert float(rows[0]["metered_m3"]) == pytest.approx(float(rows[0]["planned_m3"]), rel=0.05)


@pytest.mark.parametrize(
    ("command", "schema"),
    [
        (("plan", "--night", NIGHT), "night"),
        (("check",), "findings"),
    ],
)
def test_json_on_standard_output_keeps_the_contract(
    run_cli: Run, small_course: Path, command: tuple[str, ...], schema: str
) -> None:
    status, out, err = run_cli(command[0], small_course, *command[1:], "--format", "json")
    assert status == 0, err
    jsonschema.validate(json.loads(out), SCHEMAS[schema]())


def test_a_plan_printed_as_json_passes_the_referee(
    run_cli: Run, small_course: Path, tmp_path: Path
) -> None:
    _, out, _ = run_cli("plan", small_course, "--night", NIGHT, "--format", "json")
    (tmp_path / "plan.json").write_text(out)
    status, out, _ = run_cli("referee", small_course, tmp_path / "plan.json", "--format", "json")
    assert status == 0
    jsonschema.validate(json.loads(out), SCHEMAS["findings"]())


def test_a_plan_with_only_the_contract_keys_is_judged_and_a_broken_one_fails(
    run_cli: Run, small_course: Path, tmp_path: Path
) -> None:
    _, out, _ = run_cli("plan", small_course, "--night", NIGHT, "--format", "json")
    whole = json.loads(out)
    bare = {key: whole[key] for key in ("night", "window", "runs")}
    bare["runs"] = [{**run, "start": whole["window"]["start"]} for run in bare["runs"]]
    (tmp_path / "broken.json").write_text(json.dumps(bare))
    status, out, _ = run_cli("referee", small_course, tmp_path / "broken.json", "--format", "json")
    assert status == 1
    assert "error" in {finding["severity"] for finding in json.loads(out)}


def test_export_keeps_its_schema_and_every_head(
    run_cli: Run, small_course: Path, tmp_path: Path, survey_kit: Any
) -> None:
    assert run_cli("export", small_course, tmp_path / "record.json")[0] == 0
    document = json.loads((tmp_path / "record.json").read_text())
    jsonschema.validate(document, SCHEMAS["record"]())
    assert {row["id"] for row in document["tables"]["heads"]} == {p[0] for p in survey_kit.places()}


@pytest.mark.parametrize("form", ["table", "json", "csv"])
@pytest.mark.parametrize(
    "command", ["need", "plan", "check", "history", "settings", "ledger", "exceptions"]
)
def test_every_printing_command_takes_every_form(
    run_cli: Run, small_course: Path, command: str, form: str
) -> None:
    night = ("--night", NIGHT) if command in ("need", "plan") else ()
    status, out, err = run_cli(command, small_course, *night, "--format", form)
    assert status == 0, err
    if form == "json":
        json.loads(out)
    if form == "csv":
        assert next(csv.reader(io.StringIO(out)))


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("check", "nowhere.gpkg"), "nowhere.gpkg"),
        (("need", "COURSE", "--night", "14 July"), "year-month-day"),
        (("need", "COURSE", "--night", "2027-01-01"), "weather"),
        (("approve", "COURSE", "--night", NIGHT), "No night is planned"),
        (("morning", "COURSE", "--night", NIGHT), "No night is approved"),
        (("rehearse", "COURSE", "--night", NIGHT), "No night is approved"),
        (("survey", "COURSE", "x.csv", "--as", "head"), "Did you mean 'heads'"),
        (("settings", "COURSE", "night.strat=21:00"), "Did you mean 'night.start'"),
        (("settings", "COURSE", "night.start"), "no equals sign"),
        (("undo", "COURSE", "no-such"), "no-such"),
        (("settings", "COURSE", "need.kc_table=mine"), "one of fao56"),
        (("schema", "nights"), "no schema"),
        (("trim", "COURSE", "course", *WHEN), "changes nothing"),
        (("trim", "COURSE", "kind:greens", *WHEN, "--factor", "2"), "Did you mean green"),
        (("backup", "COURSE", "COURSE"), "exists already"),
        (
            ("trim", "COURSE", "areas:Z", "--first", NIGHT, "--last", NIGHT, "--why", "x"),
            "no row 'Z'",
        ),
        (("new", "COURSE", "--name", "x", "--near", "39.2", "--elevation", "3"), "not a place"),
        (("new", "COURSE", "--name", "x", "--near", "-112,39", "--elevation", "3"), "globe"),
        (("new", "COURSE", "--name", "x", "--near", "39.2,-112", "--elevation", "3"), "exist"),
    ],
)
def test_a_mistake_is_told_in_one_sentence_with_status_2(
    run_cli: Run, small_course: Path, words: tuple[str, ...], sentence: str
) -> None:
    status, out, err = run_cli(*(small_course if word == "COURSE" else word for word in words))
    assert status == 2
    assert sentence in " ".join(err.split())
    assert "Traceback" not in out + err


def test_a_trim_changes_the_minutes_and_ends_by_itself(run_cli: Run, small_course: Path) -> None:
    def minutes(night: str) -> int:
        _, out, _ = run_cli("plan", small_course, "--night", night, "--format", "json")
        return sum(r["run_min"] for r in json.loads(out)["runs"] if r["station"] == "S-F005")

    before = minutes(NIGHT)
    words = ("--first", NIGHT, "--last", NIGHT, "--factor", "1.5", "--why", "dry knoll")
    assert run_cli("trim", small_course, "stations:S-F005", *words)[0] == 0
    assert minutes(NIGHT) == pytest.approx(1.5 * before, abs=1)
    assert minutes("2026-07-15") < 1.2 * before


def test_a_held_area_gets_no_water_and_the_reason_is_told(run_cli: Run, small_course: Path) -> None:
    words = ("--from", f"{NIGHT}T18:00", "--to", "2026-07-15T12:00", "--cause", "chemical")
    assert run_cli("hold", small_course, "areas:A-G", *words, "--why", "wetting agent")[0] == 0
    _, out, _ = run_cli("plan", small_course, "--night", NIGHT, "--format", "json")
    plan = json.loads(out)
    assert not [run for run in plan["runs"] if run["station"].startswith("S-G")]
    reasons = {left["reason"] for left in plan["left_out"] if left["station"].startswith("S-G")}
    assert all("wetting agent" in reason for reason in reasons)
    assert len(reasons) >= 1


def test_settings_are_changed_as_a_revision_that_can_be_undone(
    run_cli: Run, small_course: Path
) -> None:
    assert run_cli("settings", small_course, "night.start=22:00", "night.pump_use=0.7")[0] == 0
    _, out, _ = run_cli("settings", small_course, "--format", "json")
    values = {row["name"]: row["value"] for row in json.loads(out)}
    assert (values["night.start"], values["night.pump_use"]) == ('"22:00"', "0.7")
    _, out, _ = run_cli("history", small_course, "--format", "json")
    last = json.loads(out)[-1]["revision"]
    assert run_cli("undo", small_course, last)[0] == 0
    _, out, _ = run_cli("settings", small_course, "--format", "json")
    assert {row["name"]: row["value"] for row in json.loads(out)}["night.start"] == "null"


def test_weather_that_changes_observed_rows_is_refused_until_told(
    run_cli: Run, small_course: Path, tmp_path: Path
) -> None:
    text = "date,tmax_c,tmin_c,rain_mm\n2026-07-10,30,12,9\n"
    (tmp_path / "other.csv").write_text(text)
    status, _, err = run_cli("weather", small_course, tmp_path / "other.csv")
    assert status == 2
    assert "--replace" in err
    assert run_cli("weather", small_course, tmp_path / "other.csv", "--replace")[0] == 0


def test_a_document_whose_own_numbers_disagree_is_told(
    run_cli: Run, small_course: Path, tmp_path: Path
) -> None:
    _, out, _ = run_cli("plan", small_course, "--night", NIGHT, "--format", "json")
    whole = json.loads(out)
    (tmp_path / "plan.json").write_text(json.dumps(whole | {"volume_m3": 2 * whole["volume_m3"]}))
    _, out, _ = run_cli("referee", small_course, tmp_path / "plan.json", "--format", "json")
    assert [finding["code"] for finding in json.loads(out)] == ["document-derived-wrong"]


def test_columns_are_shown_before_a_file_is_read(
    run_cli: Run, small_course: Path, tmp_path: Path
) -> None:
    (tmp_path / "n.csv").write_text("Nozzle,Radius ft,Flow\nN9,60,25\n")
    words = ("survey", small_course, tmp_path / "n.csv", "--as", "nozzles", "--show-columns")
    said = ("--column", "Nozzle=id", "--unit", "Flow=gpm")
    _, out, _ = run_cli(*words, "--format", "json")
    before = {row["theirs"]: row for row in json.loads(out)}
    assert (before["Nozzle"]["ours"], before["Nozzle"]["certain"]) == ("id", False)
    assert before["Radius ft"]["unit"] == "ft"
    assert (before["Flow"]["certain"], "gpm" in before["Flow"]["units"]) == (False, True)
    _, out, _ = run_cli(*words, *said, "--format", "json")
    after = {row["theirs"]: row for row in json.loads(out)}
    assert (after["Nozzle"]["ours"], after["Flow"]["unit"]) == ("id", "gpm")
    assert all(row["certain"] for row in after.values())


def test_a_file_of_one_kind_says_it_for_every_row(
    run_cli: Run, small_course: Path, tmp_path: Path
) -> None:
    square = [[-112.0, 39.2], [-111.9999, 39.2], [-111.9999, 39.2001], [-112.0, 39.2]]
    shape = {"type": "Polygon", "coordinates": [square]}
    feature = {"type": "Feature", "id": "A-NEW", "properties": {}, "geometry": shape}
    collection = {"type": "FeatureCollection", "features": [feature]}
    (tmp_path / "greens.geojson").write_text(json.dumps(collection))
    words = ("--as", "areas", "--set", "kind=green", "--yes")
    status, out, err = run_cli("survey", small_course, tmp_path / "greens.geojson", *words)
    assert status == 0, out + err
    assert run_cli("export", small_course, tmp_path / "record.json")[0] == 0
    areas = json.loads((tmp_path / "record.json").read_text())["tables"]["areas"]
    assert {row["id"]: row["kind"] for row in areas}["A-NEW"] == "green"


def test_a_hole_is_named_as_people_say_it(run_cli: Run, small_course: Path) -> None:
    assert run_cli("trim", small_course, "holes:1", *WHEN, "--factor", "0.9")[0] == 0
    status, out, _ = run_cli("plan", small_course, "--night", NIGHT, "--format", "json")
    assert status == 0
    assert "holes:H1 × 0.9" in out


def test_what_holds_keep_out_is_told_apart_from_what_does_not_fit(
    run_cli: Run, small_course: Path
) -> None:
    words = ("--from", f"{NIGHT}T18:00", "--to", "2026-07-15T12:00", "--cause", "event")
    assert run_cli("hold", small_course, "kind:green", *words, "--why", "wedding")[0] == 0
    _, out, _ = run_cli("plan", small_course, "--night", NIGHT, "--format", "json")
    codes = {finding["code"]: finding for finding in json.loads(out)["findings"]}
    assert codes["stations-held"]["severity"] == "note"
    assert "left-out" not in codes


def test_an_approved_sheet_is_printed_though_a_draft_is_later_and_stations_are_gone(
    run_cli: Run, small_course: Path, tmp_path: Path
) -> None:
    when = ("--night", NIGHT)
    assert run_cli("plan", small_course, *when)[0] == 0
    assert run_cli("approve", small_course, *when, "--by", "Ines")[0] == 0
    assert run_cli("sheet", small_course, *when, "--out", tmp_path / "before.csv")[0] == 0
    assert run_cli("plan", small_course, *when)[0] == 0
    (tmp_path / "fewer.csv").write_text("id,label\nS-T,1-T-1\n")
    words = ("--as", "stations", "--complete", "--yes", "--with-doubtful")
    run_cli("survey", small_course, tmp_path / "fewer.csv", *words)
    status, _, err = run_cli("sheet", small_course, *when, "--out", tmp_path / "after.csv")
    assert (status, "draft" in err) == (0, False)
    starts = [
        sorted((row["station"], row["start"]) for row in csv.DictReader(path.open()))
        for path in (tmp_path / "before.csv", tmp_path / "after.csv")
    ]
    assert starts[0] == starts[1]
    assert (
        "draft" in run_cli("sheet", small_course, *when, "--draft", "--out", tmp_path / "d.csv")[2]
    )


def test_a_unit_in_brackets_counts_for_a_column_that_a_person_matched(
    run_cli: Run, small_course: Path, tmp_path: Path
) -> None:
    (tmp_path / "n.csv").write_text("id,Press [psi],Flow [gpm],Radius (ft)\nN7,65,25,60\n")
    words = ("--as", "nozzles", "--column", "Press [psi]=pressure_kpa", "--yes")
    status, out, err = run_cli("survey", small_course, tmp_path / "n.csv", *words)
    assert (status, "unit-not-declared" in out) == (0, False), err
    run_cli("export", small_course, tmp_path / "record.json")
    rows = json.loads((tmp_path / "record.json").read_text())["tables"]["nozzles"]
    pressure = {row["id"]: row["pressure_kpa"] for row in rows}["N7"]
    assert pressure == pytest.approx(65 * 6.894757, rel=1e-6)


def test_an_undo_that_would_leave_others_without_their_row_is_refused(
    run_cli: Run, small_course: Path
) -> None:
    _, out, _ = run_cli("history", small_course, "--format", "json")
    of_nozzles = [r["revision"] for r in json.loads(out) if "nozzles" in r["summary"]]
    status, _, err = run_cli("undo", small_course, of_nozzles[0])
    assert status == 2
    assert "would be gone" in " ".join(err.split())


def test_trims_and_holds_are_listed_and_ended(run_cli: Run, small_course: Path) -> None:
    run_cli("trim", small_course, "kind:rough", *WHEN, "--factor", "0.8", "--by", "Ines")
    words = ("--from", f"{NIGHT}T18:00", "--to", "2030-07-15T12:00", "--cause", "event")
    run_cli("hold", small_course, "kind:green", *words, "--why", "wedding", "--by", "Tomas")

    def listed(*more: str) -> dict[str, dict[str, str]]:
        _, out, _ = run_cli("exceptions", small_course, "--format", "json", *more)
        return {row["what"]: row for row in json.loads(out)}

    both = listed()
    assert (both["trim"]["change"], both["trim"]["author"]) == ("× 0.8 + 0 min", "Ines")
    assert (both["hold"]["first"], both["hold"]["last"]) == (f"{NIGHT}T18:00", "2030-07-15T12:00")
    ended = listed("--end", both["hold"]["id"], "--by", "Ines")
    assert ended["hold"]["last"] < "2030"
    assert ended["hold"]["reason"] == "wedding"
    assert ended["hold"]["ended"].startswith("Ines, ")
    assert run_cli("exceptions", small_course, "--end", "none")[0] == 2


def test_an_empty_course_is_told_what_it_lacks(run_cli: Run, tmp_path: Path) -> None:
    place = ("--near", "39.2,-112.0", "--elevation", "1372")
    run_cli("new", tmp_path / "my.gpkg", "--name", "Ours", *place)
    status, out, _ = run_cli("check", tmp_path / "my.gpkg", "--format", "json")
    found = [finding["subject"] for finding in json.loads(out)]
    assert status == 0
    assert {"areas:*", "heads:*", "stations:*", "pumps:*", "weather:*"} <= set(found)


def test_a_unit_that_nobody_knows_is_told_as_such(
    run_cli: Run, small_course: Path, tmp_path: Path
) -> None:
    (tmp_path / "n.csv").write_text("id,radius_ft,flow_cfs\nN7,60,0.06\n")
    words = ("--as", "nozzles", "--show", "--format", "json")
    status, out, _ = run_cli("survey", small_course, tmp_path / "n.csv", *words)
    assert status == 1
    assert "flow_cfs" not in json.loads(out)[0]["examples"]


def test_a_second_walk_moves_heads_and_says_how_far(
    run_cli: Run, small_course: Path, tmp_path: Path
) -> None:
    status, out, _ = run_cli("export", small_course, tmp_path / "record.json")
    assert status == 0, out
    with open_course(small_course) as opened:
        heads = opened.ground.heads
        crs = opened.ground.crs
    lines = [f"{p.x + 0.7},{p.y}" for p in heads.geometry]
    (tmp_path / "walk.csv").write_text("x,y\n" + "\n".join(lines) + "\n")
    words = ("survey", small_course, tmp_path / "walk.csv", "--as", "heads", "--crs", crs)
    _, out, err = run_cli(*words, "--overrule", "--show", "--format", "json")
    rows = {row["change"]: row for row in json.loads(out)}
    assert list(rows) == ["added", "moved", "changed", "removed", "doubtful"]
    assert rows["added"]["count"] == 0
    assert rows["moved"]["count"] + rows["doubtful"]["count"] == len(heads)
    assert "(0.7 m)" in rows["moved"]["examples"]
    assert "Nothing was changed" in err
