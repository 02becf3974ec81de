"""The verdict of one station, doubt by doubt."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nightwater.proof.log import Opening
from nightwater.proof.result import Verdict
from nightwater.proof.stations import Evidence, Minutes, judge, minutes_of, net_depth_mm

SOUND = Minutes(open=24.0, watered=24.0)


@pytest.mark.parametrize(
    ("planned", "found", "has_log", "verdict", "words"),
    [
        (24, SOUND, True, Verdict.GREEN, "Commanded 24 of 24 min; the meter agrees."),
        (24, Minutes(open=22.0), True, Verdict.GREEN, "Commanded 22 of 24 min"),
        (24, Minutes(open=20.0), True, Verdict.AMBER, "commanded only 20 of 24 min"),
        (24, Minutes(open=11.0), True, Verdict.RED, "commanded only 11 of 24 min"),
        (24, Minutes(), True, Verdict.RED, "The log shows no opening."),
        (24, Minutes(open=24.0, dry=24.0), True, Verdict.RED, "stood still in 24 of its 24"),
        (24, Minutes(open=24.0, dry=12.0), True, Verdict.RED, "stood still in 12 of its 24"),
        (24, Minutes(open=24.0, dry=6.0), True, Verdict.AMBER, "stood still in 6 of its"),
        (24, Minutes(open=24.0, dry=2.0), True, Verdict.GREEN, "the meter agrees"),
        (24, Minutes(open=18.0, dry=7.0), True, Verdict.RED, "stood still in 7 of its 18"),
        (24, Minutes(open=24.0, unread=5.0), True, Verdict.AMBER, "was not read in 5"),
        (24, Minutes(open=24.0, unread=2.0), True, Verdict.GREEN, "the meter agrees"),
        (24, SOUND, False, Verdict.AMBER, "no command log"),
        (24, Minutes(open=24.0, dry=24.0), False, Verdict.RED, "stood still"),
        (0, Minutes(open=9.0), True, Verdict.AMBER, "ran 9 min that the plan does not hold"),
        (
            24,
            Minutes(open=24.0, disagreeing=20.0, worst_share=0.76),
            True,
            Verdict.AMBER,
            "Metered 76% of what all open stations draw, in 20 of its 24 min.",
        ),
        (24, Minutes(open=24.0, disagreeing=2.0, worst_share=0.7), True, Verdict.GREEN, "agrees"),
    ],
)
def test_verdicts(
    planned: float, found: Minutes, has_log: bool, verdict: Verdict, words: str
) -> None:
    said = judge(planned, found, has_log=has_log)
    assert said[0] is verdict
    assert words in said[1]


def evidence(**series: list[float]) -> Evidence:
    size = 10
    values = {name: np.zeros(size) for name in ("dry", "unread", "disagreeing")}
    values |= {"share": np.ones(size), "off": np.full(size, np.nan)}
    values |= {name: np.array(given) for name, given in series.items()}
    return Evidence(first_min=0, **values)


def test_minutes_are_weighed_by_second() -> None:
    seen = evidence(dry=[0, 1, 1, 1, 0, 0, 0, 0, 0, 0], share=[1, 0, 0, 0, 1, 1, 1, 0.5, 0.5, 1])
    found = minutes_of([Opening("A", 0.5, 2.5), Opening("A", 7.0, 9.0)], seen)["A"]
    assert found.open == pytest.approx(4.0)
    assert found.dry == pytest.approx(1.5)
    assert found.watered == pytest.approx(0.5 + 1.0)


def test_minutes_beyond_the_series_are_unread_and_believed() -> None:
    found = minutes_of([Opening("A", 8.0, 14.0)], evidence())["A"]
    assert found.unread == pytest.approx(4.0)
    assert found.watered == pytest.approx(6.0)


def test_share_of_the_blocks_that_disagree_is_averaged() -> None:
    off = [np.nan] * 4 + [0.6] * 3 + [0.8] * 3
    seen = evidence(disagreeing=[0] * 4 + [1] * 6, off=off)
    found = minutes_of([Opening("A", 2.0, 10.0)], seen)["A"]
    assert found.disagreeing == pytest.approx(6.0)
    assert found.worst_share == pytest.approx(0.7)


def test_no_openings_no_minutes() -> None:
    assert minutes_of([], evidence()) == {}


def test_stations_are_kept_apart() -> None:
    found = minutes_of([Opening("A", 0.0, 3.0), Opening("B", 0.0, 5.0)], evidence())
    assert (found["A"].open, found["B"].open) == (3.0, 5.0)


def test_net_depth(busy: Any) -> None:
    row = busy.night.sums[0]
    assert net_depth_mm(row, 24) == pytest.approx(6.0)
    assert net_depth_mm(row, 0) == 0.0
    assert math.isnan(net_depth_mm(None, 24))
    assert math.isnan(net_depth_mm(replace(row, multiplier=0.0), 24))


shares = st.lists(st.floats(0, 1), min_size=10, max_size=10)


@settings(deadline=None)
@given(shares, st.floats(-2, 9), st.floats(0, 12))
def test_watered_is_never_more_than_open(share: list[float], start: float, length: float) -> None:
    seen = evidence(share=share)
    found = minutes_of([Opening("A", start, start + length)], seen)["A"]
    assert -1e-9 <= found.watered <= found.open + 1e-9
