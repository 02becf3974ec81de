"""Small documents: read with a clear word, written whole or not at all."""

from __future__ import annotations

from pathlib import Path

import pytest

from nightwater.desk.documents import read_document, write_bytes_whole, write_whole
from nightwater.findings import UserError


def test_a_document_is_read_with_or_without_a_byte_order_mark(tmp_path: Path) -> None:
    path = tmp_path / "plan.json"
    path.write_bytes(b"\xef\xbb\xbf" + b'{"night": "2026-07-14"}')
    assert read_document(path) == {"night": "2026-07-14"}


@pytest.mark.parametrize(
    ("content", "word"),
    [(b"{", "not JSON"), (b"[1]", "one JSON object"), (b"\xff\xfe", "not JSON"), (None, "cannot")],
)
def test_a_bad_document_is_refused_with_its_name(
    tmp_path: Path, content: bytes | None, word: str
) -> None:
    path = tmp_path / "plan.json"
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(UserError, match=word) as caught:
        read_document(path)
    assert "plan.json" in str(caught.value)


def test_the_ending_chooses_the_maker(tmp_path: Path) -> None:
    makers = {".csv": lambda: b"a,b\n", ".json": lambda: {"a": 1}}
    write_whole(tmp_path / "x.CSV", makers)
    write_whole(tmp_path / "x.json", makers)
    assert (tmp_path / "x.CSV").read_bytes() == b"a,b\n"
    assert read_document(tmp_path / "x.json") == {"a": 1}


def test_an_ending_nobody_makes_is_refused_and_nothing_written(tmp_path: Path) -> None:
    with pytest.raises(UserError, match=r"ending in \.csv"):
        write_whole(tmp_path / "x.doc", {".csv": lambda: b""})
    assert list(tmp_path.iterdir()) == []


def test_a_failed_write_leaves_the_old_file_and_no_litter(tmp_path: Path) -> None:
    kept = tmp_path / "x.csv"
    kept.write_text("old")

    def fails() -> bytes:
        raise UserError("no")

    with pytest.raises(UserError):
        write_whole(kept, {".csv": fails})
    assert kept.read_text() == "old"
    assert [path.name for path in tmp_path.iterdir()] == ["x.csv"]


def test_a_missing_folder_is_told_in_a_sentence(tmp_path: Path) -> None:
    with pytest.raises(UserError, match="cannot be written"):
        write_bytes_whole(tmp_path / "none" / "x.pdf", b"")


def test_what_is_written_is_readable_by_whom_the_umask_lets(tmp_path: Path) -> None:
    (tmp_path / "beside").write_text("made the usual way")
    write_bytes_whole(tmp_path / "sheet.pdf", b"%PDF")
    modes = {path.stat().st_mode & 0o777 for path in tmp_path.iterdir()}
    assert len(modes) == 1
