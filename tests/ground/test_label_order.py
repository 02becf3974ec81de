"""The longest rising part of a sequence, and labels read by the club's own pattern."""

from __future__ import annotations

from itertools import combinations, pairwise

import numpy as np
import pytest

from nightwater.ground.label_order import counted_alike, label_pattern, out_of_order, rising
from nightwater.ground.number_rules import NumberRules, number_rules_from


def longest(numbers):
    """The longest rising subsequence, tried out."""
    for size in range(len(numbers), 0, -1):
        for places in combinations(range(len(numbers)), size):
            taken = [numbers[place] for place in places]
            if all(a < b for a, b in pairwise(taken)):
                return size
    return 0


@pytest.mark.parametrize(
    ("numbers", "kept"),
    [
        ([], []),
        ([7], [True]),
        ([1, 3, 5], [True] * 3),
        ([1, 9, 3, 5], [True, False, True, True]),
        ([9, 1, 3], [False, True, True]),
        ([1, 3, 0], [True, True, False]),
    ],
)
def test_the_fewest_are_taken_out(numbers, kept):
    assert rising(np.array(numbers, dtype=np.int64)).tolist() == kept


@pytest.mark.parametrize(
    ("numbers", "out"),
    [
        ([2, 4, 10, 8, 6, 12], [2, 4]),  # 6 and 10 exchanged
        ([4, 2, 6], [0, 1]),
        ([2, 12, 4, 6, 8], [1]),  # one put in later, with the next free number
        ([2, 4, 6], []),
    ],
)
def test_two_exchanged_are_both_told(numbers, out):
    assert np.flatnonzero(out_of_order(np.array(numbers))).tolist() == out


def test_equal_numbers_do_not_rise():
    assert rising(np.array([4, 4, 4])).sum() == 1


@pytest.mark.parametrize("seed", range(20))
def test_it_is_as_long_as_trying_finds(seed):
    numbers = np.random.default_rng(seed).integers(0, 9, 9)
    kept = rising(numbers)
    assert (np.diff(numbers[kept]) > 0).all()
    assert kept.sum() == longest(numbers.tolist())


@pytest.mark.parametrize(
    ("pattern", "label", "parts"),
    [
        ("{hole}-{kind}-{number}", "07-F-12", ("07", "F", "12")),
        ("{kind}{number}/{hole}", "F12/P1", ("P1", "F", "12")),
        ("{hole}.{kind}.{number}", "7.R.03", ("7", "R", "03")),
        ("({hole}) {kind} {number}", "(C3) Z 31", ("C3", "Z", "31")),
    ],
)
def test_a_pattern_reads_what_it_writes(pattern, label, parts):
    found = label_pattern(number_rules_from({"pattern": pattern})).fullmatch(label)
    assert (found["hole"], found["kind"], found["number"]) == parts


def test_a_dot_in_the_pattern_is_a_dot():
    assert not label_pattern(number_rules_from({"pattern": "{hole}.{kind}.{number}"})).fullmatch(
        "7-R-03"
    )


def test_labels_that_nobody_reads_are_not_counted(make, small):
    """The small hole calls its heads "tag 60 0": no numbers are proposed for nothing."""
    assert list(counted_alike(make(small), NumberRules())) == []


def test_groups_come_in_the_rules_order(make, small):
    small["heads"]["T1"]["label"] = "1-T-2"
    small["heads"]["T2"]["label"] = "01-T-1"
    (tee,) = counted_alike(make(small), NumberRules())
    assert tee["id"].tolist() == ["T1", "T2"]
    assert tee["number_now"].tolist() == [2, 1]
    assert set(tee["letter"]) == {"T"}
