"""Archives are judged by what they declare, and never unpack past it."""

from __future__ import annotations

import zipfile
from pathlib import Path

import pytest

from nightwater.findings import UserError
from nightwater.survey import archives
from nightwater.survey.archives import checked_members, unpacked
from nightwater.survey.markup import check_root, root_name


def packed(path: Path, **members: bytes) -> Path:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in members.items():
            archive.writestr(name, content)
    return path


def test_members_of_an_ending_come_in_order(tmp_path: Path) -> None:
    path = packed(tmp_path / "a.kmz", **{"b.kml": b"2", "a.KML": b"1", "c.png": b"3"})
    assert unpacked(path, ".kml") == {"b.kml": b"2", "a.KML": b"1"}
    assert [member.filename for member in checked_members(path)] == ["b.kml", "a.KML", "c.png"]


@pytest.mark.parametrize(("size", "refused"), [(1000, False), (1001, True)])
def test_the_sum_of_sizes_is_the_limit(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, size: int, refused: bool
) -> None:
    monkeypatch.setattr(archives, "MAX_UNPACKED_BYTES", 1000)
    path = packed(tmp_path / "a.zip", a=b"x" * 500, b=b"y" * (size - 500))
    if not refused:
        assert len(checked_members(path)) == 2
        return
    with pytest.raises(UserError, match="would unpack to"):
        checked_members(path)


def test_a_small_archive_may_pack_well(tmp_path: Path) -> None:
    well = packed(tmp_path / "a.zip", a=b" " * 9_000_000)
    assert well.stat().st_size * 200 < 9_000_000
    assert len(checked_members(well)) == 1


def test_many_members_are_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(archives, "MAX_MEMBERS", 2)
    assert len(checked_members(packed(tmp_path / "a.zip", a=b"", b=b""))) == 2
    with pytest.raises(UserError, match="3 files; archives of up to 2 are read"):
        checked_members(packed(tmp_path / "a.zip", a=b"", b=b"", c=b""))


def test_a_member_that_does_not_check_is_refused(tmp_path: Path) -> None:
    path = packed(tmp_path / "a.kmz", **{"doc.kml": b"<kml>" + bytes(range(256)) * 4})
    content = bytearray(path.read_bytes())
    content[60] ^= 0xFF
    path.write_bytes(bytes(content))
    with pytest.raises(UserError, match=r"a\.kmz cannot be unpacked: .*\. Write it anew"):
        unpacked(path, ".kml")


@pytest.mark.parametrize(
    ("text", "root"),
    [
        ("<kml/>", "kml"),
        ('<?xml version="1.0" encoding="latin-1"?><k:kml xmlns:k="urn:x">\xe9</k:kml>', "kml"),
        ("<a><b></a>", "a"),  # only the root is looked at
    ],
)
def test_the_root_is_told_without_its_namespace(text: str, root: str) -> None:
    assert root_name(text.encode("latin-1"), "x") == root


def test_another_root_is_refused_by_name() -> None:
    check_root(b"<gpx/>", "gpx", "walk.gpx")
    with pytest.raises(UserError, match=r"walk\.gpx is not what its ending says: its root is kml"):
        check_root(b"<kml/>", "gpx", "walk.gpx")


@pytest.mark.parametrize(
    "content", [b"", b" ", b"\x00", b"<?xml version='1.0' encoding='no'?><a/>"]
)
def test_what_is_no_markup_is_refused(content: bytes) -> None:
    with pytest.raises(UserError, match="x is not sound XML"):
        root_name(content, "x")
