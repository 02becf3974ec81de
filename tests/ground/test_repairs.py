"""Repairs of outlines: certain ones are done, all others left to a person."""

from __future__ import annotations

import pytest
import shapely
from shapely.affinity import translate
from shapely.geometry import GeometryCollection, LineString, MultiPolygon, Point, Polygon, box

from nightwater.findings import UserError
from nightwater.ground.edits.geometry import mended
from nightwater.ground.repairs import certain_repair, fault_in_words

BOW_TIE = Polygon([(0, 0), (10, 10), (10, 0), (0, 10)])
SPIKE = Polygon([(0, 0), (10, 0), (10, 10), (15, 10), (10, 10), (0, 10)])
SPIKE_BESIDE = translate(SPIKE, 50.0, 0.0)
# Two lobes that touch in one point and turn alike: both ways keep both.
RING_TOUCHING_ITSELF = Polygon(
    [(0, 0), (10, 0), (10, 10), (5, 5), (10, 20), (0, 20), (5, 5), (0, 10)]
)


@pytest.mark.parametrize("sound", [box(0, 0, 3, 3), Point(1, 2), LineString([(0, 0), (1, 1)])])
def test_what_is_sound_stays_the_very_same(sound: object) -> None:
    assert certain_repair(sound) is sound


def test_a_spike_is_cut_off() -> None:
    found = certain_repair(SPIKE)
    assert found is not None
    assert found.area == pytest.approx(100.0)


def test_a_bow_tie_is_nobodys_to_decide() -> None:
    assert certain_repair(BOW_TIE) is None
    assert fault_in_words(BOW_TIE) == "self-intersection"
    with pytest.raises(UserError, match=r"not valid \(self-intersection\)"):
        mended(BOW_TIE)


def test_equal_sizes_of_other_ground_are_no_agreement(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two repairs of 50 m² each that lie apart were once taken for one."""
    monkeypatch.setattr(shapely, "make_valid", lambda _: box(0, 0, 5, 10))
    monkeypatch.setattr(shapely, "buffer", lambda *_: box(5, 0, 10, 10))
    assert certain_repair(BOW_TIE) is None


def test_an_outline_that_touches_itself_keeps_its_ground() -> None:
    found = certain_repair(RING_TOUCHING_ITSELF)
    assert found is not None
    assert shapely.is_valid(found)
    assert found.area == pytest.approx(150.0)  # 200 less two triangles of 25


def test_a_spike_in_one_of_two_parts_is_cut_off() -> None:
    found = certain_repair(MultiPolygon([box(0, 0, 10, 10), SPIKE_BESIDE]))
    assert found is not None
    assert found.area == pytest.approx(200.0)


def test_a_line_beside_the_ground_does_not_count() -> None:
    broken = GeometryCollection([SPIKE, LineString([(50, 50), (60, 60)])])
    found = certain_repair(broken)
    assert found is not None
    assert shapely.area(found) == pytest.approx(100.0)
