"""`value-out-of-bounds`: numbers outside the plausible bounds of their column."""

from __future__ import annotations

import pytest

from nightwater.ground.rules import value_out_of_bounds as rule


def test_out_of_bounds(make, small, codes, only):
    small["areas"]["fairway"]["root_depth_mm"] = 5000.0
    finding = only(codes(make(small)), "value-out-of-bounds")
    assert "5000 mm, outside 20 to 1500 mm" in finding.message


def test_whole_numbers_have_bounds_too(make, small, codes, only):
    small["stations"]["S1"]["max_run_min"] = 900
    assert "900 min" in only(codes(make(small)), "value-out-of-bounds").message


@pytest.mark.parametrize(
    ("slope", "told_of"), [(60.0, []), (60.5, ["areas:green"]), (-1, ["areas:green"])]
)
def test_the_bounds_themselves_are_sound(small, subjects, slope, told_of):
    small["areas"]["green"]["slope_pct"] = slope
    assert subjects(rule, small) == told_of


def test_every_column_with_a_unit_shows_it(small, told):
    small["nozzles"]["N"] |= {"flow_l_s": 27.0, "pressure_kpa": 5000.0}
    messages = " ".join(f.message for f in told(rule, small))
    assert "27 L/s, outside 0.005 to 10 L/s" in messages
    assert "5000 kPa, outside 50 to 1200 kPa" in messages
