"""The record on the map, with its doubts."""

from __future__ import annotations

import re
from typing import Any

import pytest


def test_the_page_counts_the_record_and_says_it_is_read_only(served: Any) -> None:
    page = served.who("Vera").get("/ground").text
    for words in ("1 hole", "4 areas", "45 heads", "44 stations", "44 pipes", "1 pump"):
        assert words in page
    assert '<form method="post" action="/ground' not in page


def test_every_finding_leads_to_its_subject_on_the_map(served: Any) -> None:
    from nightwater.desk.checking import check
    from nightwater.desk.course import open_course

    with open_course(served.path) as course:
        findings = check(course)
    page = served.who("Pilar").get("/ground").text
    assert findings
    for finding in findings:
        assert f'data-show-on-map="{finding.subject}"' in page
        assert finding.code in page


def test_findings_are_filtered_by_weight(served: Any) -> None:
    pilar = served.who("Pilar")
    page = pilar.get("/ground?severity=error").text
    assert "severity-note" in page  # the tally still names the others
    assert "finding-note" not in page
    assert pilar.get("/ground?severity=terrible").status_code == 400


def test_a_head_shows_every_column_with_unit_and_evidence(served: Any) -> None:
    page = served.who("Pilar").get("/ground?subject=heads:H-F004").text
    text = " ".join(re.sub(r"<[^>]+>", " ", page).split())
    assert "spacing (observed) 65 ft" in text
    assert "arc (observed) 360°" in text
    assert "measured flow (missing) –" in text
    assert "/ground?subject=stations%3AS-F004" in page or "stations:S-F004" in page
    assert "area (computed) A-F" in text
    assert "subject=areas%3AA-F" in page
    assert 'focus="heads:H-F004"' in page


def test_a_head_says_what_feeds_it_back_to_the_pump(served: Any) -> None:
    page = served.who("Pilar").get("/ground?subject=heads:H-F004").text
    chain = re.search(r'<ol class="feeders">(.*?)</ol>', page, re.S)
    assert chain is not None
    words = re.findall(r">([^<>]+)</a>", chain.group(1))
    assert words[0].startswith("station ")
    assert any("output" in word for word in words)
    pipes = [word for word in words if re.search(r", [\d.]+ in$", word)]
    assert pipes
    assert words[-1].startswith("pump ")


def test_only_a_head_has_feeders(served: Any) -> None:
    assert 'class="feeders"' not in served.who("Pilar").get("/ground?subject=areas:A-G").text


def test_a_station_leads_to_its_heads(served: Any) -> None:
    page = served.who("Pilar").get("/ground?subject=stations:S-T").text
    assert "head H-T0" in page
    assert "head H-T1" in page


@pytest.mark.parametrize("subject", ["heads:nope", "nights:2026-07-14-1", "users:Ines", "x"])
def test_what_the_record_does_not_have_is_not_found(served: Any, subject: str) -> None:
    assert served.who("Pilar").get(f"/ground?subject={subject}").status_code == 404
    assert served.who("Pilar").get(f"/ground/subject?subject={subject}").status_code == 404


def test_a_subject_is_a_part_for_the_map_and_a_page_of_its_own(served: Any) -> None:
    address = "/ground/subject?subject=areas:A-G"
    part = served.who("Pilar").get(address, headers={"HX-Request-Type": "partial"}).text
    assert part.strip().startswith("<article")
    assert part.strip() in served.who("Pilar").get(address).text


def test_the_search_finds_by_label_and_id(served: Any) -> None:
    page = served.who("Pilar").get("/ground?q=f004").text
    assert re.findall(
        r'data-show-on-map="([^"]+)"[^>]*>[^<]* \((?:heads|stations|pipes)\)', page
    ) == [
        "stations:S-F004",
        "heads:H-F004",
        "pipes:P-H-F004",
    ]
    assert "Nothing in the record is called so" in served.who("Pilar").get("/ground?q=zz9").text


def test_the_shapes_lie_in_metres_of_the_record(served: Any) -> None:
    shapes = served.who("Pilar").get("/map/shapes.json").json()
    assert {len(shapes["areas"]), len(shapes["holes"])} == {4, 1}
    heads = {head["id"]: head for head in shapes["heads"]}
    here, next_one = heads["H-F004"], heads["H-F005"]
    apart = ((here["x"] - next_one["x"]) ** 2 + (here["y"] - next_one["y"]) ** 2) ** 0.5
    assert apart == pytest.approx(20, abs=0.1)
    assert here["throw_m"] == pytest.approx(65 * 0.3048, abs=0.01)
    assert heads["H-G0"]["bearing_deg"] == 45
    ring = next(a for a in shapes["areas"] if a["id"] == "A-G")["polygons"][0][0]
    assert ring[0] == ring[-1]


def test_the_shapes_are_sent_again_only_when_the_record_changed(served: Any, as_demo: Any) -> None:
    pilar = served.who("Pilar")
    first = pilar.get("/map/shapes.json")
    tag = first.headers["etag"]
    again = pilar.get("/map/shapes.json", headers={"if-none-match": tag})
    assert again.status_code == 304
    assert again.content == b""
    as_demo(served)  # the file changes, the shapes do not
    assert pilar.get("/map/shapes.json", headers={"if-none-match": tag}).status_code == 304
    assert pilar.get("/map/shapes.json", headers={"if-none-match": '"other"'}).status_code == 200


def test_the_map_colours_ground_by_kind_and_marks_doubtful_stations(served: Any) -> None:
    shown = served.who("Pilar").get("/ground/values.json").json()["shown"]["doubt"]
    assert shown["areas"]["A-G"] == "turf-green"
    assert set(shown["stations"].values()) <= {"amber"}


def test_pipes_are_shown_on_demand(served: Any) -> None:
    assert "Hide pipes" in served.who("Pilar").get("/ground?pipes=1").text
    assert "Show pipes" in served.who("Pilar").get("/ground").text


def test_a_finding_about_a_whole_table_is_no_link_to_nowhere() -> None:
    from nightwater.findings import note
    from nightwater.web.server import environment

    source = (
        '{% import "frame/parts.html" as parts %}{{ parts.findings_list(findings, "/ground?") }}'
    )
    findings = [note("a", "pumps:", "Slow.", "Wait."), note("b", "heads:H1", "Low.", "Lift it.")]
    text = environment().from_string(source).render(findings=findings)
    assert "<b>pumps</b>" in text
    assert re.findall(r'data-show-on-map="([^"]*)"', text) == ["heads:H1"]


def _first_finding(served: Any) -> Any:
    from nightwater.desk.checking import check
    from nightwater.desk.course import open_course

    with open_course(served.path) as course:
        return next(f for f in check(course) if f.severity != "error")


def _dismissal(finding: Any, reason: str = "A tree stands there.") -> dict[str, str]:
    from nightwater.desk.dismissing import message_digest

    of = {"code": finding.code, "subject": finding.subject, "digest": message_digest(finding)}
    return of | {"reason": reason}


def _open_part(page: str) -> str:
    return page.partition('<details class="dismissed">')[0]


def test_a_finding_is_dismissed_with_a_reason_and_opened_again(served: Any) -> None:
    tomas, finding = served.who("Tomas"), _first_finding(served)
    assert 'action="/ground/dismiss"' in tomas.get("/ground").text
    answer = tomas.post("/ground/dismiss", **_dismissal(finding))
    assert answer.status_code == 303
    assert answer.headers["location"] == "/ground#findings"
    page = served.who("Ines").get("/ground").text
    assert finding.message not in _open_part(page).replace("&#39;", "'")
    below = page.partition('<details class="dismissed">')[2]
    assert "1 dismissed finding" in below
    assert "A tree stands there." in below
    assert "Tomas, " in below
    again = {"code": finding.code, "subject": finding.subject}
    assert served.who("Ines").post("/ground/restore", **again).status_code == 303
    page = tomas.get("/ground").text
    assert "dismissed finding" not in page
    assert finding.code in page


def test_each_finding_has_its_own_form_and_keeps_the_weight_shown(served: Any) -> None:
    page = served.who("Tomas").get("/ground?severity=note").text
    assert page.count('action="/ground/dismiss"') == page.count("data-show-on-map=")
    assert '<input type="hidden" name="severity" value="note">' in page
    finding = _first_finding(served)
    answer = served.who("Tomas").post("/ground/dismiss", severity="note", **_dismissal(finding))
    assert answer.headers["location"] == "/ground?severity=note#findings"
    finding = _first_finding(served)


@pytest.mark.parametrize("name", ["Pilar", "Vera"])
def test_who_may_not_dismiss_is_told_why(served: Any, name: str) -> None:
    visitor, finding = served.who(name), _first_finding(served)
    page = visitor.get("/ground").text
    assert "Only an owner or a planner may dismiss a finding" in page
    assert "/ground/dismiss" not in page
    assert visitor.post("/ground/dismiss", **_dismissal(finding)).status_code == 403
    again = {"code": finding.code, "subject": finding.subject}
    assert visitor.post("/ground/restore", **again).status_code == 403


def test_a_dismissal_needs_the_pages_own_form(served: Any) -> None:
    finding = _first_finding(served)
    answer = served.who("Tomas").post("/ground/dismiss", token="x", **_dismissal(finding))
    assert answer.status_code == 403
    assert finding.code in _open_part(served.who("Tomas").get("/ground").text)


def test_a_dismissal_without_reason_or_of_another_message_is_refused(served: Any) -> None:
    tomas, finding = served.who("Tomas"), _first_finding(served)
    empty = tomas.post("/ground/dismiss", **_dismissal(finding, " "))
    assert empty.status_code == 400
    assert "Say why" in empty.text
    stale = tomas.post("/ground/dismiss", **(_dismissal(finding) | {"digest": "0" * 64}))
    assert stale.status_code == 404
    assert "say something else by now" in stale.text


def test_a_dismissed_doubt_no_longer_marks_its_station_or_subject(served: Any) -> None:
    tomas, finding = served.who("Tomas"), _first_finding(served)
    address = f"/ground?subject={finding.subject}"
    if finding.subject.partition(":")[2] in ("", "*"):
        pytest.skip("the first doubt is about no single row")
    assert finding.code in tomas.get(address).text.partition('id="findings"')[0]
    tomas.post("/ground/dismiss", **_dismissal(finding))
    assert finding.code not in tomas.get(address).text.partition('id="findings"')[0]


def test_an_error_says_why_it_stays(served: Any) -> None:
    from nightwater.desk.dismissing import message_digest
    from nightwater.findings import error, warning
    from nightwater.web.server import environment

    grave = error("flow-zero", "nozzles:N", "No flow.", "Enter it.")
    mild = warning("label-twice", "heads:H1", "Twice.", "Rename.")
    text = (
        environment()
        .get_template("ground/findings.html")
        .render(
            findings=[grave, mild],
            dismissed=(),
            digest=message_digest,
            most_reason=500,
            person=type("Somebody", (), {"role": "owner"})(),
            query=type("Query", (), {"severity": ""})(),
            base="/ground?",
            token="t",
        )
    )
    assert "An error cannot be dismissed" in text
    assert text.count('action="/ground/dismiss"') == 1
    assert 'value="label-twice"' in text
