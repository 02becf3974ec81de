"""How far a rule looks, so that after an edit only what may be otherwise is asked again."""

from __future__ import annotations

from enum import StrEnum


class Scope(StrEnum):
    """What a finding of a rule may hang on, when only heads change.

    WHOLE: anything; the rule is asked of the whole record again. Right for every rule, so it
    holds where a rule says nothing.
    PLACE: the heads that water the same hole (or stand for a place of their own) or share a
    station with its subject, and the tables beside the heads.
    BESIDE_HEADS: nothing of the heads; what it found stays as it was.
    """

    WHOLE = "whole"
    PLACE = "place"
    BESIDE_HEADS = "beside_heads"
