"""The sentence of a station, and the classical rules beside tonight's minutes."""

from __future__ import annotations

import html
import re
from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from nightwater.night.three_ways import ThreeWays

NIGHT = "2026-07-14"
SUM = f"/tonight/sum?night={NIGHT}&subject=stations:S-F004"
WAYS = f"/tonight/ways?night={NIGHT}"
PART = {"HX-Request": "true", "HX-Request-Type": "partial"}


def words(page: str) -> str:
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", page)).split())


def compared(served: Any) -> ThreeWays:
    from nightwater.desk.course import open_course
    from nightwater.desk.nights import required_night
    from nightwater.desk.three_ways import rules_beside

    with open_course(served.path) as course:
        ways = rules_beside(course, required_night(course, date.fromisoformat(NIGHT))).ways
    assert ways is not None
    return ways


def trimmed_and_held(served: Any) -> None:
    """A trim on one station and a hold on another, planned again."""
    from nightwater.desk.course import open_course
    from nightwater.desk.exceptions import TrimWish, add_trim
    from nightwater.desk.holding import HoldWish, add_hold
    from nightwater.desk.planning import plan

    night = date.fromisoformat(NIGHT)
    with open_course(served.path) as course:
        wish = TrimWish("stations:S-F004", 1.1, 0, night, date(2026, 7, 17), "dry <knoll>")
        add_trim(course, wish, who="Ines")
        hold = HoldWish("stations:S-T", "event", f"{NIGHT}T12:00", "2026-07-17T06:00", "final")
        add_hold(course, hold, who="Tomas")
        plan(course, night, who="Ines", now=served.clock())


def test_the_sum_leads_with_its_sentence_naming_the_trim(served: Any) -> None:
    trimmed_and_held(served)
    page = served.who("Ines").get(SUM).text
    sentence = re.search(r'<p class="sum-sentence">(.*?)</p>', page)
    assert sentence is not None
    text = words(sentence[1])
    assert re.match(
        r"\d+ min by the map: area need 0\.\d\d in, the ground its heads wet aver", text
    )
    assert "+10 % until Fri 17 Jul 2026 by Ines: dry <knoll>" in text
    assert "<knoll>" not in page  # escaped
    assert page.index("sum-sentence") < page.index("sum-line")


def test_a_held_station_says_until_when_by_whom_and_why(served: Any) -> None:
    trimmed_and_held(served)
    address = f"/tonight/sum?night={NIGHT}&subject=stations:S-T"
    text = words(served.who("Ines").get(address).text)
    assert "held until Fri 17 Jul 2026, 06:00, by Tomas (event): final" in text


def test_the_sentence_is_the_title_of_each_line_of_the_table(served: Any) -> None:
    page = served.who("Ines").get("/tonight?all=1").text
    titles = re.findall(r'title="(\d+ (?:of \d+ )?min by [^"]*)"', page)
    assert len(titles) == 44
    assert all("area need" in title for title in titles)


def test_a_reader_of_metric_units_reads_millimetres(served: Any) -> None:
    ines = served.who("Ines")
    ines.client.cookies.set("nightwater_units", "metric")
    text = words(ines.get(SUM).text)
    assert re.search(r"area need \d\.\d mm, the ground its heads wet averages \d\.\d mm", text)


def test_three_numbers_stand_in_the_sum(served: Any) -> None:
    ways = compared(served)
    page = served.who("Vera").get(SUM).text
    table = words(page[page.index("ways-table") : page.index("The three over")])
    for name, way in zip(
        ("the map, tonight", "kind of area", "its heads’ own ground"),
        ways.ways.values(),
        strict=True,
    ):
        run = f"{way.stations['run_min']['S-F004']:,.1f}".removesuffix(".0")
        same = f"{way.stations['same_min']['S-F004']:,.1f}".removesuffix(".0")
        depth = way.stations["depth_mm"]["S-F004"] / 25.4
        assert f"{name} {run} min {depth:.2f} in {same} min" in table
    assert f"needs {ways.need_mm['S-F004'] / 25.4:.2f} in on average" in table


def test_the_totals_open_from_the_minutes_step_without_script_too(served: Any) -> None:
    page = served.who("Vera").get("/tonight").text
    step = page[page.index('id="minutes"') : page.index('id="night"')]
    assert f'hx-get="{WAYS}"' in step
    assert f'href="{WAYS}"' in step
    whole, part = (served.who("Vera").get(WAYS, headers=h).text for h in ({}, PART))
    assert "<html" in whole
    assert "<html" not in part
    assert part.strip() in whole


def test_the_totals_are_those_of_the_desk_at_tonights_share(served: Any) -> None:
    ways = compared(served)
    text = words(served.who("Vera").get(WAYS).text)
    assert f"bring {100 * ways.share:.1f} % of the ground in reach its whole need" in text
    tonight = ways.ways["map"].water_m3
    for way in ways.ways.values():
        assert f"{way.water_m3 * 264.172052:,.0f} gal" in text
        assert f"{100 * way.own_share:.1f} %" in text
    more = ways.ways["kind"].water_m3 / tonight - 1
    assert f"{100 * more:+.1f} %".replace("-", "−") in text
    lacks = ways.ways["kind"].lacking_m3 * 264.172052
    assert f"{lacks:,.0f} gal" in text
    even = ways.ways["footprint"].same_lack_m3
    told = f"{even * 264.172052:,.0f} gal ({100 * (even / tonight - 1):+.1f} %)"
    assert told.replace("-", "−") in text
    for kind in ways.ways["map"].served:
        assert kind in text


def test_tonight_itself_does_not_work_out_the_rules(
    served: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    from nightwater.web.tonight import ways

    calls: list[str] = []
    real = ways.rules_beside
    monkeypatch.setattr(ways, "rules_beside", lambda *a: calls.append("x") or real(*a))
    ines = served.who("Ines")
    assert ines.get("/tonight").status_code == 200
    assert calls == []
    ines.get(WAYS)
    ines.get(SUM)
    assert calls == ["x"]  # the second finds what the first worked out


def test_a_rule_that_no_minutes_mend_says_so(served: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    from nightwater.desk.three_ways import Compared
    from nightwater.web.tonight import ways

    found = compared(served)
    endless = dict.fromkeys(("scale", "water_m3", "same_lack_m3"), float("inf"))
    never = replace(found.ways["kind"], **endless)
    changed = replace(found, ways={**found.ways, "kind": never})
    monkeypatch.setattr(ways, "rules_beside", lambda *_: Compared(changed, "", 3))
    ines = served.who("Ines")
    text = words(ines.get(WAYS).text)
    assert "kind of area no minutes would – – no minutes would –" in text
    assert "3 stations by rate count in none of the three" in text
    assert "inf" not in words(ines.get(SUM).text).split()


def test_without_anything_to_compare_the_page_says_so(
    served: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    from nightwater.desk.three_ways import Compared
    from nightwater.web.tonight import ways

    monkeypatch.setattr(ways, "rules_beside", lambda *_: Compared(None, "Nothing here.", 4))
    ines = served.who("Ines")
    assert "Nothing here." in words(ines.get(WAYS).text)
    sum_page = ines.get(SUM)
    assert sum_page.status_code == 200
    assert "ways-table" not in sum_page.text


def test_there_are_none_for_a_night_that_is_not_planned(served: Any) -> None:
    assert served.who("Ines").get("/tonight/ways?night=2026-07-20").status_code == 404


def planned_by_rate(served: Any) -> None:
    """The settings ask for minutes by rate; planned again."""
    from nightwater.desk.course import open_course
    from nightwater.desk.planning import computed_night
    from nightwater.night.document import night_to_document

    night = date.fromisoformat(NIGHT)
    with open_course(served.path) as course:
        rules = replace(course.settings.minutes, method="rate")
        asked = replace(course, settings=replace(course.settings, minutes=rules))
        document = night_to_document(computed_night(asked, night))
        course.file.save_night(night, document, served.clock())


def test_minutes_by_rate_say_why_and_stand_alone(served: Any) -> None:
    planned_by_rate(served)
    ines = served.who("Ines")
    page = ines.get(SUM).text
    assert re.search(
        r"\d+ min by rate: area need 0\.\d\d in at \d\.\d\d in/h, × 1\.\d+", words(page)
    )
    assert "not by the map, as the settings say so (minutes.method)" in words(page)
    assert "ways-table" not in page
    assert "nothing to compare" in words(ines.get(WAYS).text)


def test_the_part_for_the_table_is_the_same_as_in_the_page(served: Any) -> None:
    ines = served.who("Ines")
    part = ines.get(SUM, headers=PART).text
    assert part.strip().startswith("<article")
    assert "sum-sentence" in part
    assert "ways-table" in part
    assert part.strip() in ines.get(SUM).text


def test_an_area_has_its_account_and_no_sentence_of_a_station(served: Any) -> None:
    page = served.who("Ines").get(f"/tonight/sum?night={NIGHT}&subject=areas:A-F").text
    assert "root-zone account" in page
    assert "sum-sentence" not in page
    assert "ways-table" not in page


def test_a_station_that_asks_nothing_says_it_once(served: Any) -> None:
    from nightwater.desk.course import open_course
    from nightwater.desk.exceptions import TrimWish, add_trim
    from nightwater.desk.planning import plan

    night = date.fromisoformat(NIGHT)
    with open_course(served.path) as course:
        add_trim(course, TrimWish("stations:S-F004", 0, 0, night, night, "rebuilt"), who="Ines")
        plan(course, night, who="Ines", now=served.clock())
    page = served.who("Ines").get(SUM).text
    text = words(page)
    assert "0 min: trimmed to nothing; trim of this station −100 % until Tue 14 Jul 2026" in text
    assert "sum-line" not in page
