"""Geometry as GeoPackage binary."""

from __future__ import annotations

import struct

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import MultiLineString, MultiPolygon, Point, box

from nightwater.findings import UserError
from nightwater.store.geometry import from_blobs, to_blob


def test_the_header_is_as_the_standard_draws_it() -> None:
    blob = to_blob(MultiPolygon([box(1, 2, 3, 5)]), 32612)
    assert blob is not None
    assert blob[:2] == b"GP"
    version, flags, srs_id = struct.unpack("<BBi", blob[2:8])
    assert (version, flags & 1, (flags >> 1) & 7, (flags >> 4) & 1) == (0, 1, 1, 0)
    assert srs_id == 32612
    # The standard's order: least x, greatest x, least y, greatest y.
    assert struct.unpack("<4d", blob[8:40]) == (1.0, 3.0, 2.0, 5.0)
    assert shapely.from_wkb(blob[40:]).equals(box(1, 2, 3, 5))


def test_an_empty_geometry_says_so() -> None:
    blob = to_blob(Point(), 32612)
    assert blob is not None
    assert blob[3] == 0b0001_0001
    assert from_blobs([blob])[0].is_empty


@pytest.mark.parametrize(("code", "doubles"), [(0, 0), (1, 4), (2, 6), (3, 6), (4, 8)])
def test_every_envelope_that_others_write_is_skipped(code: int, doubles: int) -> None:
    header = b"GP" + struct.pack("<BBi", 0, 1 | code << 1, 4326) + b"\x00" * 8 * doubles
    assert from_blobs([header + shapely.to_wkb(Point(3, 4))]) == [Point(3, 4)]


def test_missing_stays_missing() -> None:
    assert to_blob(None, 4326) is None
    assert from_blobs([None, to_blob(Point(1, 2), 4326), None]) == [None, Point(1, 2), None]
    assert from_blobs([]) == []


@pytest.mark.parametrize("blob", [b"", b"GP", b"XX" + b"\x00" * 40, b"GP\x00\x0d" + b"\x00" * 40])
def test_what_is_not_geopackage_binary_is_refused(blob: bytes) -> None:
    with pytest.raises(UserError, match="Restore a backup"):
        from_blobs([blob])


def test_torn_coordinates_are_refused() -> None:
    blob = to_blob(Point(1, 2), 4326)
    assert blob is not None
    with pytest.raises(UserError, match="Restore a backup"):
        from_blobs([blob[:-5]])


coordinate = st.floats(allow_nan=False, allow_infinity=False, width=64)
points = st.tuples(coordinate, coordinate)


@given(st.lists(st.lists(points, min_size=2, max_size=6), min_size=1, max_size=3))
def test_every_coordinate_survives_to_the_last_bit(lines: list[list[tuple[float, float]]]) -> None:
    shape = MultiLineString(lines)
    (back,) = from_blobs([to_blob(shape, 1)])
    assert shapely.get_coordinates(back).tolist() == shapely.get_coordinates(shape).tolist()
