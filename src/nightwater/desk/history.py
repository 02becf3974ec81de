"""Every accepted change, on the course's own clock."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from nightwater.desk.course import Course


def local_time(instant: str, timezone: str) -> str:
    """An ISO instant on the clock of a place, with the offset that held there."""
    return datetime.fromisoformat(instant).astimezone(ZoneInfo(timezone)).isoformat()


def revision_rows(course: Course) -> list[dict[str, Any]]:
    """Revisions, the oldest first: revision, time (local, with offset), who, why, summary."""
    zone = course.settings.site.timezone
    rows = course.file.revisions().reset_index().to_dict("records")
    return [
        {str(name): value for name, value in row.items()}
        | {"time": local_time(str(row["time"]), zone)}
        for row in rows
    ]
