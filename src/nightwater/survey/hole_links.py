"""Holes that a file gives by their number on the card, as links to the record's rows."""

from __future__ import annotations

from dataclasses import replace

import pandas as pd

from nightwater.findings import note
from nightwater.survey.read import SurveyRows


def _ids_by_number(holes: pd.DataFrame) -> dict[str, str]:
    numbers = holes["number"].dropna().astype(int)
    single = numbers[~numbers.duplicated(keep=False)]
    return {str(number): str(identity) for identity, number in single.items()}


def linked_holes(rows: SurveyRows, holes: pd.DataFrame) -> SurveyRows:
    """The survey with hole numbers taken from names turned into ids of the record's holes.

    A number that no hole, or more than one, bears is left empty and counted in one note: what
    is taken from a name is too weak for a link to nothing.

    Args:
        rows: the survey.
        holes: the record's table, index = id.
    """
    if not rows.holes_by_number or "hole" not in rows.rows:
        return rows
    known = _ids_by_number(holes)
    told = rows.rows["hole"]
    linked = told.map(lambda number: known.get(number) if isinstance(number, str) else None)
    linked = linked.astype(object).where(linked.notna(), None)
    frame = rows.rows.assign(hole=linked)
    lost = int((told.notna() & linked.isna()).sum())
    if not lost:
        return replace(rows, rows=frame)
    found = note(
        "hole-not-in-record",
        f"file:{rows.source}",
        f"{rows.source}: {lost} names carry the number of a hole that the record does not have "
        "(or has twice); their hole was left empty.",
        "Survey the holes, then this file again; areas without a hole get it from the map.",
    )
    return replace(rows, rows=frame, findings=(*rows.findings, found))
