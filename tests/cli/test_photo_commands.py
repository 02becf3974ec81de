"""photo, photos and withdraw-photo as a person types them."""

from __future__ import annotations

import io
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

Run = Callable[..., tuple[int, str, str]]
HEAD = "heads:H-F004"


@pytest.fixture
def file(tmp_path: Path) -> Path:
    Image.new("RGB", (640, 480), "green").save(tmp_path / "head.jpg")
    return tmp_path / "head.jpg"


def listed(run_cli: Run, course: Path, *more: object) -> list[dict[str, Any]]:
    status, out, err = run_cli("photos", course, *more, "--format", "json")
    assert status == 0, err
    rows: list[dict[str, Any]] = json.loads(out)
    return rows


def test_a_photo_is_kept_listed_and_withdrawn(run_cli: Run, small_course: Path, file: Path) -> None:
    status, _, err = run_cli(
        "photo", small_course, HEAD, file, "--text", "Nozzle worn", "--by", "Pilar"
    )
    assert status == 0, err
    (row,) = listed(run_cli, small_course, HEAD)
    assert f"Kept photo {row['id']} of {HEAD}, 640 × 480 pixels." in " ".join(err.split())
    assert (row["text"], row["author"], row["subject"]) == ("Nozzle worn", "Pilar", HEAD)
    assert (row["width_px"], row["height_px"], row["withdrawn"]) == (640, 480, None)
    assert listed(run_cli, small_course) == [row]
    assert listed(run_cli, small_course, "heads:H-F005") == []

    status, _, err = run_cli(
        "withdraw-photo", small_course, row["id"], "--why", "another head", "--by", "Tomas"
    )
    assert status == 0, err
    (gone,) = listed(run_cli, small_course)
    assert (gone["withdrawn_by"], gone["withdrawn_why"]) == ("Tomas", "another head")
    assert gone["withdrawn"] is not None
    status, _, err = run_cli("withdraw-photo", small_course, row["id"], "--why", "again")
    assert status == 2
    assert "Tomas has withdrawn this photo already: another head" in " ".join(err.split())


def test_photos_are_written_out_and_nothing_is_overwritten(
    run_cli: Run, small_course: Path, file: Path, tmp_path: Path
) -> None:
    assert run_cli("photo", small_course, HEAD, file, "--text", "x")[0] == 0
    folder = tmp_path / "out" / "photos"
    assert run_cli("photos", small_course, "--save", folder)[0] == 0
    (written,) = folder.iterdir()
    assert Image.open(io.BytesIO(written.read_bytes())).size == (640, 480)
    status, _, err = run_cli("photos", small_course, "--save", folder)
    assert status == 2
    assert "cannot be written: File exists" in " ".join(err.split())


def test_mistakes_are_told_in_a_sentence(
    run_cli: Run, small_course: Path, file: Path, tmp_path: Path
) -> None:
    def told(*words: object) -> str:
        status, _, err = run_cli(*words)
        assert status == 2
        return " ".join(err.split())

    assert "No such file" in told("photo", small_course, HEAD, tmp_path / "no.jpg", "--text", "x")
    assert "record has no 'heads:Q'" in told("photo", small_course, "heads:Q", file, "--text", "x")
    assert "like heads:" in told("photo", small_course, "H-F004", file, "--text", "x")
    assert "Say what is to be seen" in told("photo", small_course, HEAD, file, "--text", " ")
    assert "--text" in told("photo", small_course, HEAD, file)
    assert "no photo 'abc'" in told("withdraw-photo", small_course, "abc", "--why", "x")
