"""A picture alone, or zipped with what says its place; archives that hold something else."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from pyproj import CRS

from nightwater.findings import UserError
from nightwater.survey import archives
from nightwater.survey.picture_files import WORLD_ENDINGS, keep_world_file, picture_file
from nightwater.survey.pictures import read_picture

UTM = "EPSG:32612"
WORLD = b"0.5\n0\n0\n-0.5\n413000.25\n4339999.75\n"


def png() -> bytes:
    target = io.BytesIO()
    Image.new("RGB", (40, 20), "green").save(target, "PNG")
    return target.getvalue()


def packed(path: Path, **members: bytes) -> Path:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in members.items():
            archive.writestr(name, content)
    return path


def test_a_picture_alone_is_itself(tmp_path: Path) -> None:
    path = tmp_path / "a.png"
    path.write_bytes(png())
    with picture_file(path) as file:
        assert (file.path, file.system) == (path, None)
    assert path.exists()


@pytest.mark.parametrize("ending", WORLD_ENDINGS)
def test_a_zip_gives_the_picture_with_its_place(tmp_path: Path, ending: str) -> None:
    system = CRS.from_user_input(UTM).to_wkt().encode()
    members = {"s/A.PNG": png(), f"s/A{ending}": WORLD, "s/A.prj": system, "s/read.me": b"x"}
    with picture_file(packed(tmp_path / "may.zip", **members)) as file:
        assert file.path.name == "may.png"
        picture = read_picture(file.path, UTM, file.system)
        folder = file.path.parent
    assert not folder.exists()
    assert picture.transform is not None
    np.testing.assert_allclose(picture.transform.to_map_m([[0, 0]]), [[413_000, 4_340_000]])


def test_another_pictures_world_file_is_left_aside(tmp_path: Path) -> None:
    members = {"a.png": png(), "b.pgw": WORLD, "c/a.pgw": WORLD, "b.prj": b"x"}
    with picture_file(packed(tmp_path / "a.zip", **members)) as file:
        assert file.system is None
        assert read_picture(file.path, UTM).transform is None


def test_what_a_desktop_adds_is_no_picture(tmp_path: Path) -> None:
    members = {"a.png": png(), "__MACOSX/._a.png": b"x", ".thumbs/a.jpg": b"x"}
    with picture_file(packed(tmp_path / "a.zip", **members)) as file:
        assert read_picture(file.path, UTM).size_px == (40, 20)


def test_a_name_inside_never_leads_out_of_the_folder(tmp_path: Path) -> None:
    with picture_file(packed(tmp_path / "a.zip", **{"/evil/x.png": png()})) as file:
        assert file.path.name == "a.png"
    assert [path.name for path in tmp_path.iterdir()] == ["a.zip"]


@pytest.mark.parametrize(
    ("members", "sentence"),
    [
        ({"a.txt": b"x"}, "holds no picture"),
        ({"a.png": b"x", "b.tif": b"x"}, "holds 2 pictures"),
        ({"a.png": b"x", "a.pgw": b"1 2 3"}, "must hold six numbers"),
    ],
)
def test_an_archive_holds_one_picture(
    tmp_path: Path, members: dict[str, bytes], sentence: str
) -> None:
    with (
        pytest.raises(UserError, match=sentence),
        picture_file(packed(tmp_path / "a.zip", **members)),
    ):
        pass


def test_broken_and_huge_archives_are_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    broken = tmp_path / "a.zip"
    broken.write_bytes(b"PK\x03\x04 no archive")
    with pytest.raises(UserError, match="cannot be unpacked"), picture_file(broken):
        pass
    monkeypatch.setattr(archives, "MAX_UNPACKED_BYTES", 1000)
    large = packed(tmp_path / "b.zip", **{"a.png": bytes(1001)})
    with pytest.raises(UserError, match="would unpack to"), picture_file(large):
        pass


@pytest.mark.parametrize(
    "content", [b"", b"1 2 3 4 5", b"1 2 3 4 5 x", b"1 0 0 nan 5 6", b"\xff", b"1 " * 9000,
                b"0 0 0 0 5 6", b"1 1 1 1 5 6"],
)  # fmt: skip
def test_what_is_no_world_file_is_refused(tmp_path: Path, content: bytes) -> None:
    with pytest.raises(UserError, match=r"flight\.pgw is no world file"):
        keep_world_file(tmp_path / "a.png", content, "flight.pgw")
    assert list(tmp_path.iterdir()) == []
