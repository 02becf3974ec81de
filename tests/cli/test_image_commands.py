"""image, images and place-image as a person types them."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from nightwater.ground.transforms import TransformKind, transform_from

Run = Callable[..., tuple[int, str, str]]
TRUTH = transform_from(
    TransformKind.SIMILARITY, [[0.5, 0.1, 413_300], [0.1, -0.5, 4_339_400], [0, 0, 1]]
)
PICKED = np.array([[20, 20], [580, 30], [560, 380], [40, 370], [300, 200], [200, 300]], float)


@pytest.fixture
def photo(tmp_path: Path) -> Path:
    x, y = np.meshgrid(np.arange(600), np.arange(400))
    colours = np.stack([x % 256, y % 256, (x + y) % 256], -1).astype(np.uint8)
    Image.fromarray(colours).save(tmp_path / "flight.jpg")
    return tmp_path / "flight.jpg"


def points(folder: Path, wrong: int | None = None, header: str = "column,row,x_m,y_m") -> Path:
    places = TRUTH.to_map_m(PICKED)
    if wrong is not None:
        places[wrong] += [40.0, 30.0]
    lines = [",".join(map(repr, map(float, row))) for row in np.column_stack([PICKED, places])]
    path = folder / "points.csv"
    path.write_text("\n".join([header, *lines]))
    return path


def test_a_picture_is_shown_asked_about_and_kept(
    run_cli: Run, small_course: Path, photo: Path, tmp_path: Path
) -> None:
    file = points(tmp_path, wrong=2)
    status, out, err = run_cli("image", small_course, photo, "--points", file, "--yes")
    assert status == 0
    assert "image-pair-wrong" in out
    assert "Control point 3 falls 50.0 m" in " ".join(out.split())
    assert "similarity: each point foretold by the others" in " ".join(err.split())
    assert "Kept images:flight" in err
    _status, out, _err = run_cli("images", small_course, "--format", "json")
    (row,) = json.loads(out)
    assert (row["id"], row["transform"], row["width_px"]) == ("flight", "similarity", 600)


def test_residuals_stand_in_json(
    run_cli: Run, small_course: Path, photo: Path, tmp_path: Path
) -> None:
    file = points(tmp_path, wrong=2)
    _status, out, _err = run_cli(
        "image", small_course, photo, "--points", file, "--yes", "--format", "json"
    )
    rows = json.loads(out)
    assert [row["point"] for row in rows if not row["used"]] == [3]
    assert rows[2]["residual_m"] == pytest.approx(50.0, abs=0.01)


def test_no_answer_changes_nothing(
    run_cli: Run,
    small_course: Path,
    photo: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("typer.confirm", lambda *_words, **_more: False)
    before = small_course.read_bytes()
    status, _out, err = run_cli("image", small_course, photo, "--points", points(tmp_path))
    assert status == 0
    assert "Nothing was changed" in err
    assert small_course.read_bytes() == before


def test_a_picture_without_place_says_what_to_do(
    run_cli: Run, small_course: Path, photo: Path
) -> None:
    status, _out, err = run_cli("image", small_course, photo, "--yes")
    assert status == 2
    assert "--points" in err
    assert "--unplaced" in err


def test_kept_unplaced_then_placed_then_removed_then_undone(
    run_cli: Run, small_course: Path, photo: Path, tmp_path: Path
) -> None:
    _status, _out, err = run_cli("image", small_course, photo, "--unplaced", "--yes")
    assert "/ground/place-image/flight" in err
    status, _out, err = run_cli(
        "place-image", small_course, "flight", "--points", points(tmp_path), "--yes"
    )
    assert status == 0
    assert "Placed images:flight" in err
    run_cli("place-image", small_course, "flight", "--remove")
    assert json.loads(run_cli("images", small_course, "--format", "json")[1]) == []
    history = json.loads(run_cli("history", small_course, "--format", "json")[1])
    run_cli("undo", small_course, history[-1]["revision"])
    assert len(json.loads(run_cli("images", small_course, "--format", "json")[1])) == 1


def test_a_wanted_transform_is_used(
    run_cli: Run, small_course: Path, photo: Path, tmp_path: Path
) -> None:
    file = points(tmp_path)
    _status, _out, err = run_cli(
        "image", small_course, photo, "--points", file, "--transform", "affine", "--yes"
    )
    assert "affine was asked for" in err


def test_points_in_x_and_y_ask_for_their_system(
    run_cli: Run, small_course: Path, photo: Path, tmp_path: Path
) -> None:
    file = points(tmp_path, header="column,row,x,y")
    status, _out, err = run_cli("image", small_course, photo, "--points", file, "--yes")
    assert status == 2
    assert "--crs" in err
    status, _out, _err = run_cli(
        "image", small_course, photo, "--points", file, "--crs", "EPSG:32612", "--yes"
    )
    assert status == 0


def test_mistakes_end_with_one_sentence(run_cli: Run, small_course: Path, photo: Path) -> None:
    for words in (
        ("place-image", small_course, "nothing", "--remove"),
        ("place-image", small_course, "nothing"),
        ("image", small_course, photo.with_name("gone.jpg"), "--yes"),
    ):
        status, _out, err = run_cli(*words)
        assert status == 2
        assert err.startswith("nightwater: ")
