"""Workbooks: sheets, header, numbers, dates, formulas, merged cells, and files made to hurt."""

from __future__ import annotations

import zipfile
from collections.abc import Callable, Iterable
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from nightwater.findings import UserError
from nightwater.ground.tables import TABLES
from nightwater.survey.read import ReadOptions, SurveyRows, read_table
from nightwater.survey.source_files import read_source as read_text
from nightwater.survey.suggest import suggest_columns
from nightwater.survey.workbooks import workbook_rows

CRS = "EPSG:32612"
HEADS = [
    ["id", "lon", "lat", "arc_deg", "Spacing (ft)", "condition"],
    [7.0, -112.0, 39.2, 180, 65, "good"],
    ["007", -112.001, 39.2001, 90.5, 64.5, None],
    ["H3", -112.002, 39.2002, None, None, "low"],
]


def book(path: Path, **sheets: Iterable[Iterable[Any]]) -> Path:
    whole = openpyxl.Workbook()
    whole.remove(whole.active)
    for title, rows in sheets.items():
        sheet = whole.create_sheet(title)
        for row in rows:
            sheet.append(list(row))
    whole.save(path)
    return path


def rewritten(path: Path, edit: Callable[[str], str]) -> Path:
    """The workbook with its first sheet's XML edited."""
    with zipfile.ZipFile(path) as archive:
        members = {name: archive.read(name) for name in archive.namelist()}
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in members.items():
            text = edit(content.decode()).encode() if name.endswith("sheet1.xml") else content
            archive.writestr(name, text)
    return path


def read(path: Path, table: str = "heads", **said: Any) -> SurveyRows:
    return read_table(path, TABLES[table], CRS, ReadOptions(**said))


def messages(survey: SurveyRows, code: str) -> list[str]:
    return [finding.message for finding in survey.findings if finding.code == code]


def test_a_sheet_is_read_as_a_text_table_is(tmp_path: Path) -> None:
    survey = read(book(tmp_path / "heads.xlsx", Heads=HEADS))
    assert survey.rows.index.tolist() == ["7", "007", "H3"]
    assert survey.rows["arc_deg"].tolist() == [180.0, 90.5, None]
    assert survey.rows["spacing_m"].tolist()[:2] == pytest.approx([65 * 0.3048, 64.5 * 0.3048])
    assert survey.rows.to_crs("EPSG:4326").geometry["H3"].x == pytest.approx(-112.002)
    assert list(survey.places.values()) == ["row 2", "row 3", "row 4"]
    assert survey.findings == ()
    text = tmp_path / "heads.csv"
    lines = (",".join("" if cell is None else str(cell) for cell in row) for row in HEADS)
    text.write_text("\n".join(lines).replace("7.0,", "7,"))
    same = read(text)
    assert same.rows.equals(survey.rows)


def test_the_same_columns_are_suggested(tmp_path: Path) -> None:
    found = {
        s.theirs: (s.ours, s.certain, s.unit)
        for s in suggest_columns(book(tmp_path / "h.xlsx", A=HEADS), TABLES["heads"])
    }
    assert found["Spacing (ft)"] == ("spacing_m", True, "ft")
    assert found["lon"] == ("geometry", True, None)
    assert found["id"][0] == "id"


def test_metres_need_a_system(tmp_path: Path) -> None:
    path = book(tmp_path / "h.xlsx", A=[["id", "x", "y"], ["H1", 413_000.5, 4_340_000]])
    with pytest.raises(UserError, match="--crs"):
        read(path)
    point = read(path, crs=CRS).rows.geometry["H1"]
    assert (point.x, point.y) == (413_000.5, 4_340_000)


def test_the_first_row_that_is_not_empty_names_the_columns(tmp_path: Path) -> None:
    rows = [[], [None, ""], *HEADS[:1], [], *HEADS[1:], [None]]
    survey = read(book(tmp_path / "h.xlsx", A=rows))
    assert survey.rows.index.tolist() == ["7", "007", "H3"]
    assert list(survey.places.values()) == ["row 5", "row 6", "row 7"]


def test_a_title_above_the_header_is_told(tmp_path: Path) -> None:
    path = book(tmp_path / "h.xlsx", A=[["Heads of spring"], *HEADS])
    with pytest.raises(UserError, match=r"row 1 names 1 columns.*If it is a title, delete it"):
        read(path)


def test_a_row_wider_than_the_header_is_named(tmp_path: Path) -> None:
    path = book(tmp_path / "h.xlsx", A=[*HEADS, ["H4", -112, 39.2, 1, 1, "good", None, "stray"]])
    survey = read(path)
    assert len(survey.rows) == 3
    assert "row 5: not read, because it has 8 cells, not 6" in messages(survey, "bad-row")[0]


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ([], "is empty"),
        ([["id", "arc_deg", "id"], [1, 2, 3]], "two columns named 'id'"),
    ],
)
def test_a_sheet_without_a_sound_header_is_refused(
    tmp_path: Path, rows: list[list[Any]], words: str
) -> None:
    with pytest.raises(UserError, match=words):
        read(book(tmp_path / "h.xlsx", A=rows))


def test_several_sheets_ask_which(tmp_path: Path) -> None:
    path = book(tmp_path / "h.xlsx", Front=HEADS[:2], Back=[HEADS[0], HEADS[3]], Empty=[])
    with pytest.raises(UserError, match=r"2 sheets. Name one with --layer: Front, Back"):
        read(path)
    with pytest.raises(UserError, match=r"no sheet 'front'. It holds Front, Back, Empty"):
        read(path, layer="front")
    with pytest.raises(UserError, match="sheet 'Empty' is empty"):
        read(path, layer="Empty")
    assert read(path, layer="Back").rows.index.tolist() == ["H3"]


def test_hidden_sheets_are_passed_over_unless_named(tmp_path: Path) -> None:
    path = book(tmp_path / "h.xlsx", Heads=HEADS, Lists=[["id"], ["x"]])
    whole = openpyxl.load_workbook(path)
    whole["Lists"].sheet_state = "hidden"
    whole.save(path)
    assert len(read(path).rows) == 3
    assert len(read(path, layer="Lists").rows) == 1


def test_values_are_told_as_the_sheet_shows_them(tmp_path: Path) -> None:
    row = [7.0, 0.1 + 0.2, True, datetime(2026, 7, 14), datetime(2026, 7, 14, 5, 30)]
    row += [date(2026, 7, 14), time(5, 30), timedelta(hours=26), " x ", 12345678901234567890, 1e300]
    header = [f"c{n}" for n in range(len(row))]
    cells = workbook_rows(book(tmp_path / "h.xlsx", A=[header, row]), None).cells
    assert cells.iloc[0].tolist() == [
        7,
        0.3,
        True,
        "2026-07-14",
        "2026-07-14T05:30:00",
        "2026-07-14",
        "05:30:00",
        "1 day, 2:00:00",
        "x",
        12345678901234600000.0,
        1e300,
    ]


def test_numbers_with_a_float_tail_stay_ids_and_labels(tmp_path: Path) -> None:
    path = book(tmp_path / "h.xlsx", A=[["id", "label"], [7.0, 12.0], [1e5, 7.1], [3, "07"]])
    survey = read(path, "controllers")
    assert survey.rows.index.tolist() == ["7", "100000", "3"]
    assert survey.rows["label"].tolist() == ["12", "7.1", "07"]


def test_formulas_give_their_computed_value_or_are_told(tmp_path: Path) -> None:
    rows = [["id", "arc_deg"], ["H1", "=90*2"], ["H2", "=1/0"], ["H3", "#N/A"], ["H4", 45]]
    path = book(tmp_path / "h.xlsx", A=rows)

    def computed(text: str) -> str:
        return text.replace("<f>90*2</f><v></v>", "<f>90*2</f><v>180</v>").replace(
            "<f>90*2</f><v />", "<f>90*2</f><v>180</v>"
        )

    bare = read(path)
    assert bare.rows["arc_deg"].tolist() == [None, None, None, 45.0]
    (told,) = messages(bare, "cell-without-value")
    assert "3 cells" in told
    assert "B2, B3, B4" in told
    saved = read(rewritten(path, computed))
    assert saved.rows["arc_deg"].tolist() == [180.0, None, None, 45.0]
    assert "2 cells" in messages(saved, "cell-without-value")[0]


def test_merged_cells_are_told(tmp_path: Path) -> None:
    path = book(tmp_path / "h.xlsx", A=HEADS)
    whole = openpyxl.load_workbook(path)
    whole["A"].merge_cells("F2:F3")
    whole.save(path)
    survey = read(path)
    assert survey.rows["condition"].tolist() == ["good", None, "low"]
    (told,) = messages(survey, "merged-cells")
    assert "1 merged ranges (F2:F3)" in told


def test_numbers_shown_as_percentages_are_told(tmp_path: Path) -> None:
    path = book(tmp_path / "h.xlsx", A=[["id", "slope_pct"], ["A1", 2.5], ["A2", 0.025]])
    whole = openpyxl.load_workbook(path)
    whole["A"]["B3"].number_format = "0.0%"
    whole.save(path)
    survey = read(path, "areas", fixed={"kind": "green"})
    assert survey.rows["slope_pct"].tolist() == [2.5, 0.025]
    (told,) = messages(survey, "shown-as-percentage")
    assert "1 numbers" in told
    assert "(B3)" in told


def test_a_false_size_is_not_believed(tmp_path: Path) -> None:
    path = book(tmp_path / "h.xlsx", A=HEADS)
    rewritten(path, lambda text: text.replace('ref="A1:F4"', 'ref="A1:XFD1048576"'))
    assert len(read(path).rows) == 3
    rewritten(path, lambda text: text.replace('ref="A1:XFD1048576"', 'ref="A1:A1"'))
    assert len(read(path).rows) == 3


def test_a_cell_far_out_is_refused_soon(tmp_path: Path) -> None:
    path = book(tmp_path / "h.xlsx", A=HEADS)
    rewritten(path, lambda text: text.replace('r="F4"', 'r="XFD4"'))
    with pytest.raises(UserError, match=r"row 4, column 16,384; sheets of up to"):
        read(path)
    book(path, A=HEADS)
    rewritten(path, lambda text: text.replace('<row r="4"', '<row r="999999999999"'))
    with pytest.raises(UserError, match="row 1,048,577"):
        read(path)


def test_a_text_longer_than_the_format_allows_is_refused(tmp_path: Path) -> None:
    path = book(tmp_path / "h.xlsx", A=[["id"], ["mark"]])
    rewritten(path, lambda text: text.replace("mark", "x" * 40_000))
    with pytest.raises(UserError, match="row 2: a text is longer"):
        read(path)


def test_a_number_beyond_numbers_is_a_bad_row(tmp_path: Path) -> None:
    path = book(tmp_path / "h.xlsx", A=[["id", "arc_deg"], ["H1", 45], ["H2", 90]])
    rewritten(path, lambda text: text.replace("<v>45</v>", f"<v>{'9' * 400}</v>"))
    survey = read(path)
    assert survey.refused == {"H1"}
    rewritten(path, lambda text: text.replace(f"<v>{'9' * 400}</v>", "<v>1E999</v>"))
    assert read(path).refused == {"H1"}


def test_a_workbook_that_unpacks_to_too_much_is_refused(tmp_path: Path) -> None:
    path = book(tmp_path / "h.xlsx", A=HEADS)
    rewritten(path, lambda text: text + " " * 15_000_000)
    with pytest.raises(UserError, match="times its size"):
        read(path)


def test_entities_in_a_sheet_do_not_unfold(tmp_path: Path) -> None:
    path = book(tmp_path / "h.xlsx", A=HEADS)
    layers = "".join(f'<!ENTITY e{n} "{f"&e{n - 1};" * 10}">' for n in range(1, 10))
    bomb = f'<!DOCTYPE x [<!ENTITY e0 "aaaaaaaaaa">{layers}]>'
    rewritten(path, lambda text: bomb + text.replace("good", "&e9;"))
    with pytest.raises(UserError, match="cannot be read as a workbook"):
        read(path)


@pytest.mark.parametrize("content", [b" ", b"PK", b"id,lon\n1,2\n", b"\xd0\xcf\x11\xe0" * 200])
def test_what_is_no_workbook_is_refused(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "h.xlsx"
    path.write_bytes(content)
    with pytest.raises(UserError, match=r"h\.xlsx cannot be unpacked"):
        read(path)


def test_another_zip_is_no_workbook(tmp_path: Path) -> None:
    path = tmp_path / "h.xlsx"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("doc.kml", "<kml/>")
    with pytest.raises(UserError, match="cannot be read as a workbook"):
        read(path)


def test_text_tables_go_their_own_way(tmp_path: Path) -> None:
    path = tmp_path / "h.csv"
    path.write_text("id,arc_deg\nH1,45\n")
    assert read_text(path).places == ("line 2",)
