"""Station lists that follow the heads."""

from __future__ import annotations

from typing import Any

import pytest

from nightwater.ground.edits.lists import listed_by, named_by_id, struck_off
from nightwater.ground.record import Ground


@pytest.fixture
def ground(make: Any, hole: Any) -> Ground:
    """Heads named by id, by label, by nobody's name, and by a name that two bear."""
    hole["heads"]["F1"] |= {"label": "7-1"}
    hole["heads"]["F2"] |= {"label": "7-2", "station": "st 2"}
    hole["heads"]["T1"] |= {"label": "twin"}
    hole["heads"]["T2"] |= {"label": "twin"}
    hole["stations"]["S1"] |= {"heads": "7-1, 7-2, R1"}
    hole["stations"]["S2"] |= {"heads": "R2;ghost;twin"}
    hole["stations"]["S3"] |= {"heads": "  "}
    return make(hole)


def lists(ground: Ground) -> list[str | None]:
    return ground.stations["heads"].tolist()


def test_names_become_ids_and_what_nobody_bears_stays(ground: Ground) -> None:
    after = named_by_id(ground)
    assert lists(after)[:3] == ["F1, F2, R1", "R2;ghost;twin", "  "]
    assert after.heads.loc["F2", "station"] == "S2"
    assert after.heads.loc["F1", "station"] == "S1"
    again = named_by_id(after)
    assert again.stations is after.stations
    assert again.heads is after.heads


def test_heads_are_struck_off_by_either_name(ground: Ground) -> None:
    assert lists(struck_off(ground, ["F1", "R2"]))[:2] == ["7-2, R1", "ghost; twin"]
    assert lists(struck_off(ground, ["F1", "F2", "R1"]))[0] is None
    assert lists(struck_off(ground, ["F1", "R2"], but="S1"))[:2] == ["7-1, 7-2, R1", "ghost; twin"]
    assert struck_off(ground, ["T1", "G1"]).stations is ground.stations  # "twin" may mean T2


def test_a_list_grows_only_where_there_is_one(ground: Ground) -> None:
    assert lists(listed_by(ground, ["G1", "G1", "F1"], "S1"))[0] == "7-1, 7-2, R1, G1"
    assert listed_by(ground, ["G1"], "S3").stations is ground.stations
    assert listed_by(ground, ["G1"], "S4").stations is ground.stations
