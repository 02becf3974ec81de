"""The night's water, its dry spots and repairs, computed once for a course file and a night."""

from __future__ import annotations

from datetime import date
from threading import Lock

from nightwater.desk.dry_spots import DrySpots, dry_spots
from nightwater.desk.fixing import FixList, fix_list
from nightwater.desk.nights import StoredNight
from nightwater.desk.tonight_water import TonightWater, tonight_water
from nightwater.web.coverage.state import built_wetting
from nightwater.web.doorway import Visit

_working = Lock()  # two readers who ask for the same list wait for one computation


def _fix_key(night: date) -> str:
    return f"fixes {night}"


def night_water(visit: Visit, stored: StoredNight) -> TonightWater:
    """What falls where on a stored night."""
    laid = built_wetting(visit)
    key = f"water {stored.id}"
    return visit.server.courses.remembered(key, lambda: tonight_water(visit.course, stored, laid))


def night_spots(visit: Visit, stored: StoredNight) -> DrySpots:
    """The night's dry spots with their causes."""
    water = night_water(visit, stored)
    rules, readings = visit.course.settings.fixes, visit.course.table("readings")
    return visit.server.courses.remembered(
        f"spots {stored.id}", lambda: dry_spots(water, rules, readings)
    )


def has_fixes(visit: Visit, night: date) -> bool:
    """Whether the list of repairs is at hand."""
    return visit.server.courses.knows(_fix_key(night))


def night_fixes(visit: Visit, stored: StoredNight) -> FixList:
    """What repairs would save; some seconds on a large course, then kept."""
    with _working:
        found = night_spots(visit, stored)
        water = night_water(visit, stored)
        return visit.server.courses.remembered(
            _fix_key(stored.plan.night), lambda: fix_list(visit.course, water, found)
        )
