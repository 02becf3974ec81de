"""Edits of the record as JSON: previews, conflicts, history, and what wets a spot."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any

from shapely.geometry import mapping
from shapely.geometry.base import BaseGeometry

from nightwater.desk.conflicts import Conflict
from nightwater.desk.editing import EditPreview, SavedEdit
from nightwater.findings import Finding
from nightwater.ground.changes import GEOMETRY, plain_rows
from nightwater.ground.links import head_throw_m, resolve_station_lists
from nightwater.ground.record import Ground
from nightwater.ground.tables import GROUND_TABLES, TABLES
from nightwater.spray.spot import heads_at
from nightwater.store.history import PastChange
from nightwater.web.figures import local_moment
from nightwater.web.places import labels

Document = dict[str, Any]


def json_value(value: Any) -> Any:
    """A plain value of the record for JSON; a shape as GeoJSON, NaN as nothing."""
    if isinstance(value, BaseGeometry):
        return mapping(value)
    return None if isinstance(value, float) and not math.isfinite(value) else value


def _json_values(values: Mapping[str, Any] | None) -> Document | None:
    return None if values is None else {key: json_value(value) for key, value in values.items()}


def finding_rows(findings: Iterable[Finding]) -> list[dict[str, str]]:
    """Findings as rows of text."""
    return [finding.as_row() for finding in findings]


def _features(ground: Ground, table: str, ids: list[str]) -> Document:
    rows = plain_rows(ground.table(table).loc[ids], TABLES[table])
    throw_m = head_throw_m(ground) if table == "heads" else None
    features = []
    for identity, values in rows.items():
        properties = {name: value for name, value in values.items() if name != GEOMETRY}
        if throw_m is not None:
            properties["throw_m"] = json_value(float(throw_m[identity]))
        features.append(
            {
                "type": "Feature",
                "id": identity,
                "geometry": json_value(values.get(GEOMETRY)),
                "properties": properties,
            }
        )
    return {"type": "FeatureCollection", "features": features}


def preview_document(found: EditPreview) -> Document:
    """What operations would make of the record; heads come with their throw, too."""
    resolved = resolve_station_lists(found.ground)[0]
    rows = found.changes.rows
    changed = {
        name: [row.id for row in rows if row.table == name and row.after is not None]
        for name in GROUND_TABLES
    }
    return {
        "changed": {name: _features(resolved, name, ids) for name, ids in changed.items() if ids},
        "removed": [f"{row.table}:{row.id}" for row in rows if row.after is None],
        "findings": finding_rows(found.findings),
        "impossible": [{"at": why.at, "message": str(why)} for why in found.impossible],
    }


def saved_document(saved: SavedEdit) -> Document:
    """A saved edit."""
    return {
        "revision": saved.revision,
        "created": {str(at): list(subjects) for at, subjects in saved.created.items()},
        "findings": finding_rows(saved.findings),
    }


def conflict_document(conflict: Conflict) -> Document:
    """Both versions of a row."""
    return {
        "subject": conflict.subject,
        "yours": _json_values(conflict.yours),
        "theirs": _json_values(conflict.theirs),
        "by": conflict.by or "another program",
        "revision": conflict.revision or "",
        "digest": conflict.digest,
    }


def history_document(past: Iterable[PastChange], timezone: str) -> Document:
    """What revisions did to a row, the newest first, on the clock of a time zone."""
    return {
        "revisions": [
            {
                "revision": entry.revision,
                "time": local_moment(datetime.fromisoformat(entry.time), timezone),
                "who": entry.who,
                "why": entry.why,
                "columns": {
                    name: [json_value(old), json_value(new)]
                    for name, (old, new) in entry.change.columns.items()
                },
            }
            for entry in past
        ]
    }


def wets_document(ground: Ground, x: float, y: float) -> Document:
    """Which heads wet a spot, each with its rate and its share of the whole.

    Args:
        ground: the record, station lists resolved.
        x, y: the spot [m].
    """
    found, names = heads_at(ground, x, y), labels(ground.heads)
    total = float(found["rate_mm_h"].sum())
    heads = [
        {
            "id": head,
            "label": names[head],
            "station": ground.heads.loc[head, "station"],
            "distance_m": distance_m,
            "rate_mm_h": json_value(rate_mm_h),
            "share": json_value(rate_mm_h / total) if total > 0 else None,
        }
        for head, distance_m, rate_mm_h in found.itertuples(index=False)
    ]
    return {"heads": heads, "total_mm_h": total}
