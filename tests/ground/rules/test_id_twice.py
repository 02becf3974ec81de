"""`id-twice`: ids that more than one row carries."""

from __future__ import annotations

import dataclasses

import pandas as pd

from nightwater.ground.checks import check_ground
from nightwater.ground.linked import Linked
from nightwater.ground.rules import id_twice as rule


def test_id_twice_stops_the_rest(make, small):
    ground = make(small)
    twice = pd.concat([ground.heads, ground.heads.loc[["R1"]]])
    found = check_ground(dataclasses.replace(ground, heads=twice))
    assert [(f.code, f.subject) for f in found] == [("id-twice", "heads:R1")]
    assert "2 times" in found[0].message


def test_each_table_is_looked_at(make, small):
    ground = make(small)
    twice = pd.concat([ground.nozzles, ground.nozzles, ground.nozzles.loc[["N"]]])
    found = list(rule.find(Linked(dataclasses.replace(ground, nozzles=twice))))
    assert [f.subject for f in found] == ["nozzles:N", "nozzles:small"]
    assert "stands 3 times in nozzles" in found[0].message
