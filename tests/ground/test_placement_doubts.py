"""Each doubt about a placed picture, with a small example and one that is sound."""

from __future__ import annotations

import numpy as np
import pytest

from nightwater.findings import Severity
from nightwater.ground.placement import place_image
from nightwater.ground.placement_doubts import place_findings, placement_findings
from nightwater.ground.transforms import TransformKind, transform_from

SIZE = (1000, 800)
CORNERS = np.array([[20, 20], [980, 30], [970, 780], [30, 770], [500, 300], [300, 600]], float)
LEVEL = transform_from(
    TransformKind.SIMILARITY, [[0.3, 0, 413_000], [0, -0.3, 4_340_000], [0, 0, 1]]
)
RECORD = (413_000.0, 4_339_700.0, 413_400.0, 4_340_100.0)


def codes(image: np.ndarray, shift: np.ndarray, kind: TransformKind | None = None) -> list[str]:
    placement = place_image(image, LEVEL.to_map_m(image) + shift, SIZE, kind)
    found = placement_findings(placement, "images:a")
    assert all(finding.subject == "images:a" for finding in found)
    return [finding.code for finding in found]


def noise(count: int, sigma_m: float) -> np.ndarray:
    return np.random.default_rng(4).normal(0, sigma_m, (count, 2))


def test_a_sound_placement_has_no_doubts() -> None:
    assert codes(CORNERS, noise(6, 0.2)) == []
    assert place_findings(LEVEL, SIZE, RECORD, "images:a") == []
    assert place_findings(LEVEL, SIZE, None, "images:a") == []


def test_a_wrong_pair_is_named_by_its_number() -> None:
    shift = noise(6, 0.2)
    shift[4] += [30.0, 40.0]
    placement = place_image(CORNERS, LEVEL.to_map_m(CORNERS) + shift, SIZE)
    (doubt,) = placement_findings(placement, "images:a")
    assert (doubt.code, doubt.severity) == ("image-pair-wrong", Severity.WARNING)
    assert doubt.message.startswith("Control point 5 falls ")
    assert placement.distance_m[4] == pytest.approx(50.0, abs=1.0)


@pytest.mark.parametrize(("sigma_m", "told"), [(1.0, False), (6.0, True)])
def test_points_that_agree_poorly(sigma_m: float, told: bool) -> None:
    found = codes(CORNERS, noise(6, sigma_m), TransformKind.SIMILARITY)
    assert ("image-fit-poor" in found) is told


def test_four_points_show_the_worst_without_deciding() -> None:
    shift = noise(4, 0.05)
    shift[1] += [12.0, 0.0]
    placement = place_image(
        CORNERS[:4], LEVEL.to_map_m(CORNERS[:4]) + shift, SIZE, TransformKind.SIMILARITY
    )
    by_code = {finding.code: finding for finding in placement_findings(placement, "images:a")}
    doubt = by_code["image-pair-worst"]
    assert doubt.severity is Severity.NOTE
    assert "Control point 2 fits worst" in doubt.message
    assert "4 points cannot tell" in doubt.message


def test_four_points_that_agree_are_left_alone() -> None:
    assert "image-pair-worst" not in codes(CORNERS[:4], noise(4, 0.1), TransformKind.SIMILARITY)


def test_points_in_one_corner_leave_the_others_unsure() -> None:
    huddled = CORNERS * 0.2
    assert codes(huddled, noise(6, 0.3), TransformKind.AFFINE) == ["image-outside-points"]
    assert codes(CORNERS, noise(6, 0.3), TransformKind.AFFINE) == []


def test_a_fit_with_nothing_left_over_is_unchecked() -> None:
    assert codes(CORNERS[:3], noise(3, 0.2), TransformKind.AFFINE) == ["image-fit-unchecked"]
    assert "image-fit-unchecked" not in codes(CORNERS[:4], noise(4, 0.2), TransformKind.AFFINE)


def test_a_picture_seen_from_below() -> None:
    turned = transform_from(
        TransformKind.AFFINE, [[0.3, 0, 413_000], [0, 0.3, 4_339_800], [0, 0, 1]]
    )
    assert [f.code for f in place_findings(turned, SIZE, RECORD, "images:a")] == ["image-mirrored"]


def test_a_picture_beside_the_course() -> None:
    far = transform_from(TransformKind.AFFINE, [[0.3, 0, 416_400], [0, -0.3, 4_340_000], [0, 0, 1]])
    (doubt,) = place_findings(far, SIZE, RECORD, "images:a")
    assert doubt.code == "image-far-from-course"
    assert "3.0 km" in doubt.message
    near = transform_from(
        TransformKind.AFFINE, [[0.3, 0, 414_300], [0, -0.3, 4_340_000], [0, 0, 1]]
    )
    assert place_findings(near, SIZE, RECORD, "images:a") == []


def test_pixels_too_large_to_tell_a_head() -> None:
    coarse = transform_from(TransformKind.AFFINE, [[3, 0, 413_000], [0, -3, 4_340_000], [0, 0, 1]])
    (doubt,) = place_findings(coarse, SIZE, RECORD, "images:a")
    assert (doubt.code, doubt.severity) == ("image-coarse", Severity.NOTE)
    assert "3.0 m wide" in doubt.message
