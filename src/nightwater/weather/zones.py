"""Time zones by name, or as a clock that never changes."""

from __future__ import annotations

import re
from datetime import timedelta, timezone, tzinfo
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from nightwater.findings import UserError


def zone_named(name: str) -> tzinfo:
    """A time zone by its IANA name, or a fixed offset written as "UTC-08:00".

    Raises:
        UserError: no such zone.
    """
    fixed = re.fullmatch(r"UTC([+-])(\d\d?)(?::?(\d\d))?", name)
    if fixed:
        length = timedelta(hours=int(fixed[2]), minutes=int(fixed[3] or 0))
        return timezone(length if fixed[1] == "+" else -length)
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError) as trouble:
        raise UserError(
            f"There is no time zone '{name}'. Use a name such as America/Denver, or "
            "UTC-07:00 for a clock without daylight saving."
        ) from trouble
