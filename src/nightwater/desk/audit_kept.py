"""An audit as the course file holds it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
import shapely

from nightwater.desk.course import Course
from nightwater.findings import NotFoundError
from nightwater.ground.tables import TABLES


@dataclass(frozen=True)
class Audit:
    """One audit as the file holds it.

    Attributes:
        id: its id.
        facts: columns of its row; None where missing.
        cans: rows of its cans in walking order: label, caught_ml, left_out, earlier, x_m, y_m.
    """

    id: str
    facts: Mapping[str, Any]
    cans: pd.DataFrame

    @property
    def label(self) -> str:
        """What people call it."""
        return str(self.facts["label"] or self.id)

    @property
    def stations(self) -> tuple[str, ...]:
        """Ids of the stations that ran, or are to run."""
        return tuple(str(self.facts["stations"] or "").split())

    @property
    def entered(self) -> int:
        """Cans whose catch is known."""
        return int(self.cans["caught_ml"].notna().sum())


def plain_value(value: Any) -> Any:
    """A cell as plain Python; None where it is missing."""
    return None if value is None or pd.isna(value) else value


def audit_of(course: Course, identity: str) -> Audit:
    """One audit with its cans.

    Raises:
        NotFoundError: no such audit.
    """
    rows = course.file.running("audits")
    if identity not in rows.index:
        raise NotFoundError(f"There is no audit '{identity}' in this course.")
    facts = {name: plain_value(rows.at[identity, name]) for name in TABLES["audits"].by_name}
    cans = course.file.running("cans", audit=identity)
    points = np.asarray(cans.geometry.to_numpy(), dtype=object)
    listed = pd.DataFrame(cans[["label", "caught_ml", "left_out", "earlier"]])
    listed = listed.assign(x_m=shapely.get_x(points), y_m=shapely.get_y(points))
    return Audit(identity, facts, listed.sort_index())


def audits_of(course: Course) -> list[Audit]:
    """Every audit, the newest first."""
    return [audit_of(course, str(name)) for name in course.file.running("audits").index[::-1]]


def gap_m(audit: Audit) -> float:
    """Usual distance from a can to the nearest other [m]."""
    at = audit.cans[["x_m", "y_m"]].to_numpy(dtype=float)
    away = np.hypot(*(at[:, None, :] - at[None, :, :]).transpose(2, 0, 1))
    np.fill_diagonal(away, np.inf)
    return float(np.median(away.min(axis=1)))
