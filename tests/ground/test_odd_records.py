"""Proposals on records with nothing, or with broken things, in them: no crash, no nonsense."""

from __future__ import annotations

import pandas as pd
import pytest
from shapely.geometry import LineString, MultiLineString, Point, Polygon, box

from nightwater.ground.arcs import propose_arcs, with_arcs
from nightwater.ground.lines import propose_lines
from nightwater.ground.nozzles import propose_nozzles, with_nozzles
from nightwater.ground.number_rules import NumberRules
from nightwater.ground.numbering import number_findings, propose_numbers, renumber
from nightwater.ground.pair_rules import PairRules
from nightwater.ground.pairing import propose_stations, with_stations
from nightwater.ground.perimeters import propose_perimeters, with_new
from nightwater.ground.record import ground_from

ODD_AREAS = pd.DataFrame(
    {
        "kind": ["rough", "green", "tee", "fairway", "practice"],
        "geometry": [
            Polygon([(0, 0), (10, 10), (10, 0), (0, 10)]),  # crosses itself
            None,
            Polygon(),
            box(0, 0, 50, 50),
            box(100, 100, 150, 150),
        ],
    },
    index=list("vwxyz"),
)
ODD_LINES = pd.DataFrame(
    {
        "geometry": [
            LineString(),
            None,
            LineString([(0, 0), (0, 0)]),
            MultiLineString([[(0, 0), (1, 1)], [(5, 5), (6, 6)]]),
        ]
    },
    index=list("1234"),
)
PLACES = [Point(0, 0), Point(0, 0), Point(1, 1), Point(120, 120), None, Point()]
HEADS = pd.DataFrame(
    {"geometry": PLACES, "spacing_m": [10, 10, None, 5, 5, 5]}, index=list("abcdef")
)


@pytest.mark.parametrize(
    "tables",
    [
        {},
        {"heads": HEADS},
        {"areas": ODD_AREAS},
        {"holes": ODD_LINES},
        {"heads": HEADS, "areas": ODD_AREAS},
        {"heads": HEADS, "areas": ODD_AREAS, "holes": ODD_LINES},
    ],
    ids=lambda tables: " ".join(tables) or "nothing",
)
def test_every_proposal_can_be_made_and_taken(tables):
    ground = ground_from("EPSG:32612", tables)
    stations = propose_stations(ground, PairRules())
    assert len(with_stations(ground, stations.rows).stations) == len(stations.rows)
    grouped = {head for members in stations.rows["heads"] for head in members}
    told = {finding.subject.removeprefix("heads:") for finding in stations.findings}
    assert grouped | told == set(ground.heads.index)
    assert not grouped & told
    numbers = propose_numbers(ground, NumberRules())
    number_findings(ground, numbers)
    assert len(renumber(ground, numbers).heads) == len(ground.heads)
    with_arcs(ground, propose_arcs(ground))
    assert with_nozzles(ground, propose_nozzles(ground)).heads["nozzle"].isna().all()
    assert propose_lines(ground).empty
    rings, _ = propose_perimeters(ground, 0.0, 2.0)
    assert len(with_new(ground, "areas", rings).areas) == len(ground.areas) + len(rings)
