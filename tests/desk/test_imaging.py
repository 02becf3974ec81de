"""Pictures in a course: read, placed, kept, moved, removed, and drawn as squares of the map."""

from __future__ import annotations

import io
import json
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from nightwater.desk.course import Course, open_course
from nightwater.desk.image_tiles import map_tile, picture_tile, tile_grid
from nightwater.desk.imaging import (
    ImageWish,
    accept_image,
    check_has_place,
    course_image,
    course_images,
    move_image,
    propose_image,
    record_extent,
    remove_image,
)
from nightwater.findings import ConflictError, NotFoundError, UserError
from nightwater.ground.settings import Settings, Site
from nightwater.ground.transforms import TransformKind, transform_from
from nightwater.store.course_file import CourseFile
from nightwater.survey.pyramid import TILE_PX

NOW = datetime(2026, 7, 14, 21, tzinfo=UTC)
EAST, NORTH = 413_000.0, 4_340_000.0
SIZE = (1400, 900)
MOVE = np.array([[1, 0, EAST], [0, 1, NORTH], [0, 0, 1]])
TRUTH = {
    kind: transform_from(kind, MOVE @ np.array(rows, dtype=float))
    for kind, rows in {
        TransformKind.SIMILARITY: [[0.3, 0.1, 0], [0.1, -0.3, 0], [0, 0, 1]],
        TransformKind.AFFINE: [[0.31, 0.09, 0], [0.02, -0.27, 0], [0, 0, 1]],
        TransformKind.PROJECTIVE: [[0.31, 0.09, 0], [0.02, -0.27, 0], [1e-4, 2e-4, 1]],
    }.items()
}
PICKED = np.array(
    [[60, 50], [1340, 80], [1300, 840], [90, 860], [700, 300], [500, 600], [1000, 450]], dtype=float
)


@pytest.fixture
def course(tmp_path: Path) -> Iterator[Course]:
    path = tmp_path / "course.gpkg"
    site = Site("Test Links", 39.2, -112.0, 1372.0, "America/Denver", "EPSG:32612")
    CourseFile.create(path, Settings(site)).close()
    with open_course(path) as opened:
        yield opened


def pattern() -> np.ndarray:
    """Red grows with the column, green with the row; blue a chequer of 100 pixels."""
    column, row = np.meshgrid(np.arange(SIZE[0]), np.arange(SIZE[1]))
    blue = ((column // 100 + row // 100) % 2) * 200
    return np.stack([column * 255 / SIZE[0], row * 255 / SIZE[1], blue], -1).astype(np.uint8)


def photo(tmp_path: Path, name: str = "Aerial 2026.png") -> Path:
    path = tmp_path / name
    Image.fromarray(pattern()).save(path)
    return path


def points_file(tmp_path: Path, kind: TransformKind, wrong: int | None = None) -> Path:
    places = TRUTH[kind].to_map_m(PICKED)
    if wrong is not None:
        places[wrong] += [55.0, -30.0]
    rows = [",".join(map(repr, map(float, row))) for row in np.column_stack([PICKED, places])]
    path = tmp_path / "points.csv"
    path.write_text("\n".join(["column,row,x_m,y_m", *rows]))
    return path


def kept(course: Course, tmp_path: Path, kind: TransformKind) -> Course:
    wish = ImageWish(points=points_file(tmp_path, kind), name="Aerial")
    proposal = propose_image(course, photo(tmp_path), wish)
    accept_image(course, proposal, who="Pilar", why="flight of May", now=NOW)
    return course.reopened()


def test_a_proposal_changes_nothing(course: Course, tmp_path: Path) -> None:
    wish = ImageWish(points=points_file(tmp_path, TransformKind.AFFINE))
    proposal = propose_image(course, photo(tmp_path), wish)
    assert (proposal.id, proposal.label) == ("aerial-2026", "Aerial 2026")
    assert proposal.placement is not None
    assert proposal.placement.transform.kind is TransformKind.AFFINE
    assert len(course.reopened().ground.images) == 0
    assert len(course.file.revisions()) == 0


def test_a_kept_picture_tells_how_it_was_placed(course: Course, tmp_path: Path) -> None:
    wish = ImageWish(points=points_file(tmp_path, TransformKind.SIMILARITY, wrong=3))
    proposal = propose_image(course, photo(tmp_path), wish)
    assert [finding.code for finding in proposal.findings] == ["image-pair-wrong"]
    assert "Control point 4 falls 62.6 m" in proposal.findings[0].message
    accept_image(course, proposal, who="Pilar", why="flight of May", now=NOW)
    image = course_image(course.reopened(), "aerial-2026")
    assert image.transform == proposal.transform
    assert image.size_px == SIZE
    assert (image.placed_by, image.placed) == ("Pilar", "2026-07-14T21:00:00Z")
    assert [point["used"] for point in image.points] == [True] * 3 + [False] + [True] * 3
    assert image.points[3]["residual_m"] == pytest.approx(np.hypot(55, 30), abs=0.01)
    assert image.points[3]["column_px"] == PICKED[3, 0]
    row = course.reopened().ground.images.loc["aerial-2026"]
    assert (row["evidence"], row["transform_kind"]) == ("drawing", "similarity")
    assert course.file.revisions()["why"].tolist() == ["flight of May"]


def coded_photo(tmp_path: Path) -> Path:
    """Red is the column and green the row, both from 0 to 199 again and again; kept lossless."""
    column, row = np.meshgrid(np.arange(SIZE[0]) % 200, np.arange(SIZE[1]) % 200)
    layers = [column, row, np.zeros_like(column), np.full_like(column, 254)]
    path = tmp_path / "coded.png"
    Image.fromarray(np.stack(layers, -1).astype(np.uint8)).save(path)
    return path


@pytest.mark.parametrize("kind", list(TransformKind))
def test_every_tile_shows_the_ground_where_it_lies(
    course: Course, tmp_path: Path, kind: TransformKind
) -> None:
    """Each place on the map shows the pixel that lies there, to a pixel of the tile."""
    wish = ImageWish(points=points_file(tmp_path, kind))
    accept_image(
        course, propose_image(course, coded_photo(tmp_path), wish), who="A", why="b", now=NOW
    )
    course = course.reopened()
    image = course_image(course, "coded")
    grid, random, checked = tile_grid(image), np.random.default_rng(2), 0
    for zoom, step in enumerate(grid.resolutions_m):
        for pixel in random.uniform(10, np.array(SIZE) - 10, (40, 2)):
            coarse = step / TRUTH[kind].metres_per_pixel(pixel)
            if np.abs((pixel + 100) % 200 - 100).min() < 4 * max(coarse, 1.0):
                continue  # where the count begins again, colours mix
            x, y = TRUTH[kind].to_map_m(pixel)
            across, down = (x - grid.origin_m[0]) / step, (grid.origin_m[1] - y) / step
            drawn = map_tile(course, image, zoom, int(across // TILE_PX), int(down // TILE_PX))
            shown = np.asarray(Image.open(io.BytesIO(drawn.content)).convert("RGBA"))
            at = shown[int(down % TILE_PX), int(across % TILE_PX)].astype(float)
            assert np.abs(at[:2] - (pixel - 0.5) % 200).max() <= 1.5 + max(coarse, 1.0)
            checked += 1
    assert checked >= 40


def test_beyond_the_picture_is_seen_through(course: Course, tmp_path: Path) -> None:
    course = kept(course, tmp_path, TransformKind.SIMILARITY)
    image = course_image(course, "aerial")
    drawn = map_tile(course, image, 0, 0, 0)
    assert drawn.media_type == "image/png"
    shown = np.asarray(Image.open(io.BytesIO(drawn.content)))
    assert shown.shape == (TILE_PX, TILE_PX, 4)
    assert (shown[..., 3] == 0).any()
    assert (shown[..., 3] == 255).any()


def test_a_tile_in_the_midst_is_a_jpeg(course: Course, tmp_path: Path) -> None:
    course = kept(course, tmp_path, TransformKind.AFFINE)
    image = course_image(course, "aerial")
    zoom = len(tile_grid(image).resolutions_m) - 1
    kinds = set()
    for column in range(4):
        for row in range(3):
            try:
                kinds.add(map_tile(course, image, zoom, column, row).media_type)
            except NotFoundError:
                continue
    assert kinds <= {"image/png", "image/jpeg"}
    assert "image/png" in kinds


@pytest.mark.parametrize("place", [(99, 0, 0), (-1, 0, 0), (0, 1, 0), (0, 0, 5), (0, -1, 0)])
def test_tiles_that_do_not_exist_are_not_found(
    course: Course, tmp_path: Path, place: tuple[int, int, int]
) -> None:
    course = kept(course, tmp_path, TransformKind.AFFINE)
    with pytest.raises(NotFoundError):
        map_tile(course, course_image(course, "aerial"), *place)


def test_the_pictures_own_tiles_are_there(course: Course, tmp_path: Path) -> None:
    course = kept(course, tmp_path, TransformKind.AFFINE)
    image = course_image(course, "aerial")
    tile = picture_tile(course, image, 0, 1, 1)
    shown = np.asarray(Image.open(io.BytesIO(tile.content)).convert("RGB")).astype(int)
    assert shown.shape == (900 - 512, 512, 3)
    assert np.abs(shown - pattern()[512:900, 512:1024]).max() <= 60
    assert np.abs(shown - pattern()[512:900, 512:1024]).mean() < 3
    with pytest.raises(NotFoundError):
        picture_tile(course, image, 0, 9, 9)


def test_moving_a_picture_changes_the_version_and_undo_brings_it_back(
    course: Course, tmp_path: Path
) -> None:
    course = kept(course, tmp_path, TransformKind.AFFINE)
    before = tile_grid(course_image(course, "aerial"))
    moved = TRUTH[TransformKind.AFFINE].to_map_m(PICKED) + np.array([20.0, 0.0])
    revision = move_image(
        course, "aerial", np.column_stack([PICKED, moved]), None, who="Ines", why="shift", now=NOW
    )
    after = course_image(course.reopened(), "aerial")
    assert tile_grid(after).version != before.version
    assert tile_grid(after).extent_m[0] == pytest.approx(before.extent_m[0] + 20, abs=1e-3)
    assert after.placed_by == "Ines"
    course.file.undo(revision, "Ines", "no", NOW)
    assert tile_grid(course_image(course.reopened(), "aerial")) == before


def test_a_removed_picture_comes_back_by_undo(course: Course, tmp_path: Path) -> None:
    course = kept(course, tmp_path, TransformKind.AFFINE)
    revision = remove_image(course, "aerial", who="Ines", why="old", now=NOW)
    gone = course.reopened()
    assert course_images(gone) == []
    with pytest.raises(NotFoundError):
        course_image(gone, "aerial")
    course.file.undo(revision, "Ines", "needed", NOW)
    back = course.reopened()
    assert map_tile(back, course_image(back, "aerial"), 0, 0, 0).content


def test_the_same_picture_twice_is_kept_once(course: Course, tmp_path: Path) -> None:
    course = kept(kept(course, tmp_path, TransformKind.AFFINE), tmp_path, TransformKind.AFFINE)
    assert [image.id for image in course_images(course)] == ["aerial", "aerial-2"]
    with closing(sqlite3.connect(course.path)) as connection:
        counted = connection.execute("SELECT count(*), count(DISTINCT picture) FROM image_tiles")
        assert counted.fetchone() == (6 + 2 + 1, 1)


def test_a_failed_import_leaves_nothing(
    course: Course, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    proposal = propose_image(
        course, photo(tmp_path), ImageWish(points=points_file(tmp_path, TransformKind.AFFINE))
    )

    def failing(*_arguments: object, **_more: object) -> None:
        raise UserError("The disk is full")

    monkeypatch.setattr("nightwater.store.course_file.apply_changes", failing)
    with pytest.raises(UserError, match="disk is full"):
        accept_image(course, proposal, who="Pilar", why="x", now=NOW)
    with closing(sqlite3.connect(course.path)) as connection:
        assert connection.execute("SELECT count(*) FROM image_tiles").fetchone() == (0,)
        assert connection.execute("SELECT count(*) FROM images").fetchone() == (0,)


def test_an_id_taken_meanwhile_is_a_conflict(course: Course, tmp_path: Path) -> None:
    wish = ImageWish(points=points_file(tmp_path, TransformKind.AFFINE))
    first, second = (propose_image(course, photo(tmp_path), wish) for _ in range(2))
    accept_image(course, first, who="Pilar", why="x", now=NOW)
    with pytest.raises(ConflictError):
        accept_image(course, second, who="Tomas", why="x", now=NOW)


def test_a_picture_without_place_can_be_kept_and_placed_later(
    course: Course, tmp_path: Path
) -> None:
    proposal = propose_image(course, photo(tmp_path), ImageWish())
    with pytest.raises(UserError, match="does not say where it lies"):
        check_has_place(proposal)
    accept_image(course, proposal, who="Pilar", why="x", now=NOW)
    course = course.reopened()
    image = course_image(course, "aerial-2026")
    assert image.transform is None
    with pytest.raises(NotFoundError, match="no place yet"):
        tile_grid(image)
    pairs = np.column_stack([PICKED, TRUTH[TransformKind.PROJECTIVE].to_map_m(PICKED)])
    move_image(course, image.id, pairs, None, who="Pilar", why="placed", now=NOW)
    placed = course_image(course.reopened(), image.id).transform
    assert placed is not None
    assert placed.kind is TransformKind.PROJECTIVE


def test_a_place_far_from_the_record_and_mirrored_is_doubted(
    small_course: Path, tmp_path: Path
) -> None:
    (tmp_path / "Aerial 2026.pgw").write_text("2\n0\n0\n2\n500000\n4340000\n")
    with open_course(small_course) as course:
        extent = record_extent(course.ground)
        proposal = propose_image(course, photo(tmp_path), ImageWish(crs="EPSG:32612"))
    assert extent is not None
    assert extent[2] - extent[0] > 300
    codes = [finding.code for finding in proposal.findings]
    assert codes == ["image-mirrored", "image-far-from-course", "image-coarse"]


def test_stored_points_are_plain_json(course: Course, tmp_path: Path) -> None:
    course = kept(course, tmp_path, TransformKind.AFFINE)
    text = course.ground.images.loc["aerial", "control_points"]
    assert set(json.loads(text)[0]) == {
        "column_px", "row_px", "x_m", "y_m", "residual_m", "used",
    }  # fmt: skip
