"""The as-built maps of the invented club: every head and valve named, nothing covered."""

from __future__ import annotations

import pytest

from nightwater.desk.as_built import map_frame
from nightwater.desk.as_built_parts import HoleParts, hole_order
from nightwater.desk.as_built_scale import PAPERS
from nightwater.desk.hole_drawing import hole_map
from nightwater.ground.linked import Linked
from nightwater.units import UnitSystem


@pytest.mark.parametrize("paper", ["tabloid", "letter"])
def test_all_labels_of_all_holes_stand_free(ground, paper):
    linked = Linked(ground)
    holes = [HoleParts(linked, hole) for hole in hole_order(ground)]
    assert len(holes) == 18
    for parts in holes:
        drawn = hole_map(map_frame(parts, PAPERS[paper], UnitSystem.US)[0])
        assert drawn.left_out == ()
        boxes = [placed.box for placed in drawn.placed]
        crossing = [
            (one, other)
            for place, one in enumerate(boxes)
            for other in boxes[:place]
            if one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]
        ]
        assert crossing == []
        assert len(drawn.placed) >= len(parts.heads) + len(parts.valves)


def test_every_head_of_a_hole_is_on_exactly_one_sheet(ground):
    linked = Linked(ground)
    shown = [head for hole in hole_order(ground) for head in HoleParts(linked, hole).heads.index]
    numbered = ground.heads.index[ground.heads["label"].str.match(r"\d\d-")]
    assert len(shown) == len(set(shown)) == 1180
    assert set(shown) == set(numbered)
