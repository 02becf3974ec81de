"""Keep what was said of a file's columns in the course, and find it again."""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import datetime
from typing import Any

import pandas as pd

from nightwater.desk.course import Course
from nightwater.survey.remembered import Said

_PARTS = ("columns", "units", "fixed")


def kept_choices(course: Course, table: str) -> dict[str, Said]:
    """What the course keeps of files that fill a table, by the digest of their header."""
    rows = course.file.running("column_matches", fills=table).to_dict("records")
    kept = [_said(row) for row in rows]
    return {said.source: said for said in kept if said}


def _said(row: Mapping[Any, Any]) -> Said:
    return Said(row["source"], *(json.loads(row[part]) for part in _PARTS))


def keep_choices(
    course: Course, table: str, said: Said, *, who: str, now: datetime, forget: bool
) -> None:
    """Keep what was said of a file, for the next with the same header.

    Args:
        course: the course.
        table: which table the file fills.
        said: what was said, and what was used again.
        who, now: who said it, when.
        forget: what was kept before is dropped, even where nothing was said.
    """
    before = kept_choices(course, table).get(said.source, Said(said.source))
    if said == before or not (said or forget):
        return
    values = {part: json.dumps(getattr(said, part), ensure_ascii=False) for part in _PARTS}
    row = {"source": said.source, "fills": table, **values, "author": who, "time": now}
    index = pd.Index([f"{table}:{said.source}"], name="id")
    course.file.append("column_matches", pd.DataFrame([row], index=index))
