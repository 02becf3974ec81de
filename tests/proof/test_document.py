"""A proof survives JSON, with every NaN and None in its place."""

from __future__ import annotations

import json
from typing import Any

import pytest

from nightwater.findings import UserError
from nightwater.proof.document import proof_from_document, proof_to_document
from nightwater.proof.verdict import Proof


def through_json(proof: Proof) -> Proof:
    return proof_from_document(json.loads(json.dumps(proof_to_document(proof), allow_nan=False)))


@pytest.mark.parametrize(
    "faults",
    [
        {},
        {"pump_trip_at": "22:00"},
        {"leak_l_s": 0.4},
        {"log_lost": True},
        {"meter_lost": ("20:00", "06:00")},
        {"meter_lost": ("21:30", "22:00"), "silent_controllers": ("A",)},
    ],
)
def test_proof_survives_json(busy: Any, faults: dict[str, Any]) -> None:
    proof = busy.proved(**faults)
    # NaN is not equal to itself; its text is. Instants come back with a fixed offset.
    back = through_json(proof)
    assert back.start == proof.start
    assert back.first_tee == proof.first_tee
    for name in vars(proof).keys() - {"start", "first_tee"}:
        assert repr(getattr(back, name)) == repr(getattr(proof, name)), name
    assert back.irrigation.equals(proof.irrigation)


def test_document_holds_plain_values(busy: Any) -> None:
    document = proof_to_document(busy.proved(meter_lost=("20:00", "06:00")))
    assert document["verdict"] == "amber"
    assert type(document["verdict"]) is str
    assert document["night"] == "2025-07-10"
    assert document["first_tee"] == "2025-07-11T07:00:00-06:00"
    assert document["metered_m3"] is None
    assert document["blocks"][0]["agrees"] is None
    assert document["stations"][0]["verdict"] == "amber"


def test_missing_and_unknown_keys_are_named(busy: Any) -> None:
    document = proof_to_document(busy.proved())
    del document["blocks"]
    document["colour"] = 1
    with pytest.raises(UserError, match=r"blocks, colour \(unknown\)"):
        proof_from_document(document)


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("verdict", "purple"),
        ("night", "soon"),
        ("stations", [{"station": "S0"}]),
        ("blocks", 3),
        ("findings", [{"severity": "fatal"}]),
        ("start", None),
    ],
)
def test_misshapen_values_are_refused(busy: Any, key: str, value: Any) -> None:
    document = proof_to_document(busy.proved())
    document[key] = value
    with pytest.raises(UserError, match="cannot be read"):
        proof_from_document(document)
