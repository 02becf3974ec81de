"""Looking at a file reads it once, whatever is shown of it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import ezdxf
import pytest

from nightwater.desk import surveying
from nightwater.desk.course import Course
from nightwater.desk.surveying import column_rows, look_at_file, survey_file
from nightwater.findings import UserError
from nightwater.survey import drawing, read
from nightwater.survey.read import ReadOptions


@pytest.fixture
def reads(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Each time that a file is read, by what."""
    found: list[str] = []

    def noted(owner: Any, name: str) -> None:
        own = getattr(owner, name)

        def called(*given: Any, **more: Any) -> Any:
            found.append(name)
            return own(*given, **more)

        monkeypatch.setattr(owner, name, called)

    noted(read, "read_source")
    noted(surveying, "open_drawing")
    noted(drawing, "open_drawing")
    return found


def table(tmp_path: Path) -> Path:
    path = tmp_path / "heads.csv"
    path.write_text("id,label\nH-F004,seven\nH-F005,eight\n")
    return path


def drawn(tmp_path: Path) -> Path:
    document = ezdxf.new(units=6)
    for x in (0, 20):
        document.modelspace().add_circle((413_000 + x, 4_340_000), 0.5, {"layer": "HEADS"})
    path = tmp_path / "heads.dxf"
    document.saveas(path)
    return path


def test_a_table_is_read_once(course: Course, tmp_path: Path, reads: list[str]) -> None:
    path, options = table(tmp_path), ReadOptions()
    found = look_at_file(course, path, "heads", options, complete=False)
    assert reads == ["read_source"]
    assert found.layers == []
    assert found.columns == column_rows(course, path, "heads", options)
    alone = survey_file(course, path, "heads", options, complete=False)
    assert found.proposal is not None
    assert dict(found.proposal.changed) == dict(alone.changed) != {}
    assert found.fault == ""


def test_a_drawing_is_opened_once(course: Course, tmp_path: Path, reads: list[str]) -> None:
    options = ReadOptions(crs="EPSG:32612")
    found = look_at_file(course, drawn(tmp_path), "heads", options, complete=False)
    assert reads == ["open_drawing", "read_source"]
    assert found.layers == [("HEADS", "CIRCLE", 2)]
    assert found.proposal is not None, found.fault
    assert {row["theirs"] for row in found.columns} >= {"layer", "radius_m"}


def test_what_cannot_be_read_so_still_shows_its_columns(course: Course, tmp_path: Path) -> None:
    options = ReadOptions(columns={"nothing": "label"})
    found = look_at_file(course, table(tmp_path), "heads", options, complete=False)
    assert found.proposal is None
    assert "nothing" in found.fault
    assert [row["theirs"] for row in found.columns] == ["id", "label"]


def test_a_table_that_is_none_is_a_fault_and_a_broken_drawing_is_refused(
    course: Course, tmp_path: Path
) -> None:
    found = look_at_file(course, table(tmp_path), "haeds", ReadOptions(), complete=False)
    assert "Did you mean 'heads'?" in found.fault
    broken = tmp_path / "broken.dxf"
    broken.write_text("no drawing")
    with pytest.raises(UserError, match=r"broken\.dxf"):
        look_at_file(course, broken, "heads", ReadOptions(), complete=False)
