"""The projected metric system of a course."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import CRS

from nightwater.findings import UserError
from nightwater.store.place import projected_crs


@pytest.mark.parametrize(
    ("latitude", "longitude", "crs"),
    [
        (39.2, -112.0, "EPSG:32612"),
        (-33.9, 151.2, "EPSG:32756"),
        (60.4, 5.3, "EPSG:32631"),  # the regular zone, not Norway's widened 32
        (78.2, 15.6, "EPSG:32633"),
        (0.5, 0.5, "EPSG:32631"),
    ],
)
def test_the_utm_zone_of_a_place(latitude: float, longitude: float, crs: str) -> None:
    assert projected_crs(latitude, longitude, None) == crs


@settings(max_examples=25, deadline=None)
@given(st.floats(-79, 83), st.floats(-180, 180))
def test_every_place_has_a_system_that_keeps_lengths(latitude: float, longitude: float) -> None:
    crs = CRS.from_user_input(projected_crs(latitude, longitude, None))
    assert crs.is_projected
    area = crs.area_of_use
    assert area is not None
    assert area.south <= latitude <= area.north


def test_a_given_system_is_taken() -> None:
    assert projected_crs(39.2, -112.0, "EPSG:26912") == "EPSG:26912"
    assert projected_crs(39.2, -112.0, "epsg:26912") == "EPSG:26912"


@pytest.mark.parametrize(
    ("given_crs", "words"),
    [
        ("EPSG:4326", "not a projected system in metres"),
        ("EPSG:2263", "not a projected system in metres"),
        ("EPSG:4978", "not a projected system in metres"),
        ("here", "no coordinate system 'here'"),
    ],
)
def test_systems_in_degrees_or_feet_are_refused(given_crs: str, words: str) -> None:
    with pytest.raises(UserError, match=words):
        projected_crs(39.2, -112.0, given_crs)


def test_a_place_beyond_utm_needs_a_given_system() -> None:
    with pytest.raises(UserError, match="--crs"):
        projected_crs(-89.0, 0.0, None)
