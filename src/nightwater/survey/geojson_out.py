"""The record as one GeoJSON document, a feature for each row of each table."""

from __future__ import annotations

import json
from typing import Any

from pyproj import CRS
from shapely.geometry import mapping

from nightwater.ground.record import Ground
from nightwater.survey.export_rows import ExportTable, export_tables
from nightwater.survey.record_geojson import MARK, TABLE_PROPERTY


def _feature(each: ExportTable, row: dict[str, Any], place: Any) -> dict[str, Any]:
    return {
        "type": "Feature",
        "properties": {TABLE_PROPERTY: each.table.name, **row},
        "geometry": None if place is None else mapping(place),
    }


def _system(crs: str) -> dict[str, Any]:
    authority = CRS.from_user_input(crs).to_authority(min_confidence=100)
    name = f"urn:ogc:def:crs:{authority[0]}::{authority[1]}" if authority else crs
    return {"type": "name", "properties": {"name": name}}


def geojson_bytes(ground: Ground) -> bytes:
    """Every row of every table as a feature; its property `table` says which.

    Coordinates are metres of the record, named by a `crs` member, which map programs
    know (RFC 7946 leaves other systems to those who agree on them); so no digit is lost.
    """
    tables = export_tables(ground)
    features = [_feature(each, *pair) for each in tables for pair in each.located]
    document = {
        "type": "FeatureCollection",
        MARK: {each.table.name: list(each.header) for each in tables},
        "crs": _system(ground.crs),
        "features": features,
    }
    return json.dumps(document, ensure_ascii=False, allow_nan=False).encode()
