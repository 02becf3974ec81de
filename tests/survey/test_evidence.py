"""Surveyed over drawing over guessed: who may overwrite whom."""

from __future__ import annotations

from itertools import product

import geopandas as gpd
import pandas as pd
import pytest
from shapely.geometry import Point

from nightwater.ground.columns import EVIDENCE
from nightwater.ground.record import conform, ground_from
from nightwater.ground.tables import TABLES
from nightwater.survey.evidence import is_weaker, overwritten
from nightwater.survey.propose import Proposal, propose
from nightwater.survey.read import SurveyRows

CRS = "EPSG:32612"
HEADS = TABLES["heads"]
RANK = {name: rank for rank, name in enumerate(EVIDENCE)}


def head(x: float = 0.0, **columns: object) -> pd.DataFrame:
    index = pd.Index(["H1"], name="id")
    values = {name: [value] for name, value in columns.items()}
    return gpd.GeoDataFrame(values, index=index, geometry=[Point(x, 0)], crs=CRS)


def proposed(known: pd.DataFrame, told: pd.DataFrame, *, overrule: bool = False) -> Proposal:
    rows = SurveyRows(told, {"H1": "line 2"}, frozenset(), frozenset(), (), "plan.csv")
    record = ground_from(CRS, {"heads": conform(known, HEADS, CRS)})
    return propose(record, HEADS, rows, overrule=overrule)


def reasons(proposal: Proposal) -> list[str]:
    return [f.message for f in proposal.findings if f.code == "weaker-evidence"]


@pytest.mark.parametrize(("known", "told"), list(product(EVIDENCE, EVIDENCE)))
def test_only_a_weaker_file_is_doubted(known: str, told: str) -> None:
    weaker = RANK[told] > RANK[known]
    assert is_weaker({"evidence": known}, {"evidence": told}) is weaker
    proposal = proposed(head(nozzle="N1", evidence=known), head(nozzle="N2", x=1.0, evidence=told))
    assert ("H1" in proposal.doubtful) is weaker
    assert ("H1" in proposal.moved) is not weaker
    row = {**proposal.doubtful, **proposal.moved}["H1"].after or {}
    assert (row["nozzle"], row["evidence"]) == ("N2", told)


def test_the_sentence_names_what_would_be_lost() -> None:
    proposal = proposed(
        head(nozzle="N1", arc_deg=180.0, evidence="surveyed"),
        head(nozzle="N2", arc_deg=180.0, x=1.0, evidence="drawing"),
    )
    assert reasons(proposal) == [
        "plan.csv would overwrite nozzle, its place of H1, which is known as surveyed, on "
        "drawing evidence."
    ]


def test_a_person_may_overrule() -> None:
    known, told = head(nozzle="N1", evidence="surveyed"), head(nozzle="N2", evidence="guessed")
    proposal = proposed(known, told, overrule=True)
    assert proposal.changed["H1"].columns == {
        "nozzle": ("N1", "N2"),
        "evidence": ("surveyed", "guessed"),
    }
    assert (proposal.doubtful, proposal.findings) == ({}, ())


def test_a_weaker_file_fills_gaps_and_lowers_no_evidence() -> None:
    known, told = head(evidence="surveyed"), head(nozzle="N2", evidence="guessed")
    proposal = proposed(known, told)
    assert proposal.changed["H1"].columns == {"nozzle": (None, "N2")}
    assert proposal.findings == ()


def test_a_weaker_file_that_says_the_same_changes_nothing() -> None:
    known, told = head(nozzle="N1", evidence="drawing"), head(nozzle="N1", evidence="guessed")
    proposal = proposed(known, told)
    assert (proposal.changed, proposal.moved, proposal.doubtful) == ({}, {}, {})


def test_a_better_file_raises_the_evidence() -> None:
    known, told = head(evidence="guessed"), head(evidence="surveyed")
    assert proposed(known, told).changed["H1"].columns == {"evidence": ("guessed", "surveyed")}


def test_a_guessed_place_may_move_farther_than_a_surveyed_one() -> None:
    told = head(x=6.0, evidence="surveyed")
    assert list(proposed(head(evidence="guessed"), told).moved) == ["H1"]
    assert list(proposed(head(evidence="surveyed"), told).doubtful) == ["H1"]


def test_what_is_filled_is_not_overwritten() -> None:
    before = {"nozzle": None, "arc_deg": 90.0, "label": "a", "evidence": "drawing"}
    after = {"nozzle": "N1", "arc_deg": 180.0, "label": "a", "evidence": "surveyed"}
    assert overwritten(before, after) == ["arc_deg"]
