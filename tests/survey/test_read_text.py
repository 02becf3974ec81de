"""Text tables as people and programs write them."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pandas as pd
import pytest
from pyproj import Transformer

from nightwater.findings import Severity, UserError
from nightwater.ground.tables import TABLES
from nightwater.survey.read import ReadOptions, SurveyRows, read_table

CRS = "EPSG:32612"
Read = Callable[..., SurveyRows]


@pytest.fixture
def read(tmp_path: Path) -> Read:
    """Write a file and read it as a table."""

    def build(
        table: str, content: str | bytes, name: str = "file.csv", **said: object
    ) -> SurveyRows:
        path = tmp_path / name
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
        return read_table(path, TABLES[table], CRS, ReadOptions(**said))  # type: ignore[arg-type]

    return build


def codes(survey: SurveyRows) -> list[str]:
    return [finding.code for finding in survey.findings]


def told(survey: SurveyRows, code: str) -> str:
    return next(finding.message for finding in survey.findings if finding.code == code)


def test_our_own_names_are_si(read: Read) -> None:
    survey = read("nozzles", "id,pressure_kpa,flow_l_s,radius_m\nN1,483,1.73,19.8\n")
    assert survey.rows.loc["N1"].to_dict() == {
        "pressure_kpa": 483.0,
        "flow_l_s": 1.73,
        "radius_m": 19.8,
    }
    assert survey.findings == ()


@pytest.mark.parametrize(
    "header",
    [
        "id,pressure_psi,flow_gpm,radius_ft",
        "ID,Pressure (psi),Flow [gpm],Radius ft",
        "Id, PRESSURE_PSI , flow-gpm ,radius  (ft)",
    ],
)
def test_units_declared_in_the_header_are_converted(read: Read, header: str) -> None:
    row = read("nozzles", f"{header}\nN1,70,27.5,65\n").rows.loc["N1"]
    assert row["pressure_kpa"] == pytest.approx(70 * 6.894757293168361)
    assert row["flow_l_s"] == pytest.approx(27.5 * 3.785411784 / 60)
    assert row["radius_m"] == pytest.approx(65 * 0.3048)


def test_units_and_columns_may_be_said_by_a_person(read: Read) -> None:
    survey = read(
        "nozzles",
        "Nr,P,Q,Throw\nN1,70,27.5,65\n",
        columns={"Nr": "id", "P": "pressure_kpa", "Q": "flow_l_s", "Throw": "radius_m"},
        units={"P": "psi", "Q": "gpm", "Throw": "ft"},
    )
    assert survey.rows.loc["N1", "radius_m"] == pytest.approx(19.812)
    assert survey.findings == ()


@pytest.mark.parametrize(
    "header", ["id,pressure,flow_gpm,radius_ft", "id,Pressure,Flow gpm,radius_ft"]
)
def test_a_unit_is_never_guessed(read: Read, header: str) -> None:
    survey = read("nozzles", f"{header}\nN1,70,27.5,65\n")
    assert "pressure_kpa" not in survey.rows
    finding = survey.findings[0]
    assert (finding.code, finding.severity) == ("unit-not-declared", Severity.ERROR)
    assert "psi" in finding.fix
    assert "--unit" in finding.fix


def test_a_column_matched_by_hand_must_say_its_unit_too(read: Read) -> None:
    survey = read("nozzles", "id,P\nN1,70\n", columns={"P": "pressure_kpa"})
    assert codes(survey) == ["unit-not-declared"]


def test_a_unit_of_another_quantity_is_refused(read: Read) -> None:
    with pytest.raises(UserError, match=r"cannot be in ft.*kPa, bar, psi"):
        read("nozzles", "id,pressure\nN1,70\n", units={"pressure": "ft"})
    with pytest.raises(UserError, match=r"no unit 'pis'.*'psi'"):
        read("nozzles", "id,pressure\nN1,70\n", units={"pressure": "pis"})


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ({"columns": {"Throww": "radius_m"}}, "no column 'Throww'. Did you mean 'Throw'"),
        ({"columns": {"Throw": "radios_m"}}, "no column 'radios_m'. Did you mean 'radius_m'"),
        ({"units": {"Thro": "ft"}}, "no column 'Thro'. Did you mean 'Throw'"),
        ({"fixed": {"labl": "x"}}, "no column 'labl'. Did you mean 'label'"),
        ({"fixed": {"radius_m": "far"}}, "'far' cannot be fixed"),
        ({"fixed": {"Throw": "1"}}, "no column 'Throw'"),
    ],
)
def test_wishes_that_name_nothing_are_refused(read: Read, said: dict, words: str) -> None:  # type: ignore[type-arg]
    with pytest.raises(UserError, match=words):
        read("nozzles", "id,Throw\nN1,65\n", **said)


def test_unknown_columns_are_named_with_the_nearest(read: Read) -> None:
    survey = read("stations", "id,output,controler,colour\nS1,5,C1,red\n")
    notes = [finding for finding in survey.findings if finding.code == "unknown-column"]
    assert [finding.severity for finding in notes] == [Severity.NOTE] * 2
    assert "'controler'" in notes[0].message
    assert "'controller'" in notes[0].message
    assert "'colour'" in notes[1].message
    assert list(survey.rows.columns) == ["output"]


def test_two_columns_for_one_of_ours(read: Read) -> None:
    survey = read("nozzles", "id,radius_m,radius_ft\nN1,20,10\n")
    assert survey.rows.loc["N1", "radius_m"] == 20.0
    assert codes(survey) == ["column-twice"]


BAD = [
    (
        "pipes",
        "id,diameter_mm\nP1,54\nP2,wide\n",
        "line 3 (P2): not read, because diameter_mm is 'wide'",
    ),
    (
        "pipes",
        "id,diameter_mm\nP1,54\nP2,\n",
        "line 3 (P2): not read, because diameter_mm is missing",
    ),
    ("pipes", "id,diameter_mm\nP1,54\nP2,9000\n", "outside 10 to 1500"),
    ("pipes", "id,diameter_in\nP1,2\nP2,200\n", "200 in, outside 0.3937 to 59.06 in"),
    ("pipes", "id,diameter_mm\nP1,54\nP2,inf\n", "diameter_mm is 'inf'"),
    ("pipes", "id,diameter_mm\nP1,54\nP2,1_000\n", "'1_000', which is no number"),
    ("pipes", 'id,diameter_mm\nP1,54\nP2,"1,000"\n', "'1,000', which is no number"),
    ("pipes", "id,diameter_mm,kind\nP1,54,spur\nP2,54,trunk\n", "not one of header, main, loop"),
    (
        "pipes",
        "id,diameter_mm\nP1,54\nP2,54,x,y\n",
        "line 3: not read, because it has 4 cells, not 2",
    ),
    ("stations", "id,output\nP1,5\nP2,5.5\n", "output is 5.5, not a whole number"),
    ("valves", "id,kind,open\nP1,air,yes\nP2,air,perhaps\n", "write yes or no"),
    ("meters", "id,calibrated_on\nP1,2026-03-01\nP2,1.3.2026\n", "not a date like 2026-07-14"),
]


@pytest.mark.parametrize(("table", "text", "words"), BAD)
def test_a_bad_row_is_named_and_the_good_ones_load(
    read: Read, table: str, text: str, words: str
) -> None:
    survey = read(table, text)
    assert survey.rows.index.tolist() == ["P1"]
    bad = [finding for finding in survey.findings if finding.code == "bad-row"]
    assert len(bad) == 1
    assert bad[0].severity is Severity.ERROR
    assert words in bad[0].message


def test_every_bad_row_is_named_by_its_line_even_after_lines_in_quotes(read: Read) -> None:
    text = 'id,label,output\nS1,"two\nlines",1\nS2,x,a\n\nS3,y,b\n'
    survey = read("stations", text)
    messages = [finding.message for finding in survey.findings if finding.code == "bad-row"]
    assert ["line 4 (S2)" in messages[0], "line 6 (S3)" in messages[1]] == [True, True]
    assert survey.refused == {"S2", "S3"}
    assert survey.rows.loc["S1", "label"] == "two\nlines"


def test_duplicate_ids_keep_the_first_and_name_both_lines(read: Read) -> None:
    survey = read("stations", "id,label\nS1,first\nS2,x\nS1,second\n")
    assert survey.rows["label"].to_dict() == {"S1": "first", "S2": "x"}
    finding = survey.findings[0]
    assert (finding.code, finding.severity) == ("duplicate-id", Severity.ERROR)
    assert "line 2" in finding.message
    assert "line 4" in finding.message


def test_a_second_row_of_an_id_whose_first_row_is_bad_is_not_taken(read: Read) -> None:
    survey = read("stations", "id,output\nS1,bad\nS1,5\n")
    assert survey.rows.empty
    assert codes(survey) == ["bad-row", "duplicate-id"]


def test_missing_ids_are_made_up_and_never_those_of_the_file(read: Read) -> None:
    survey = read("stations", "id,label\n,a\nstation-0001,b\n,c\nstation-0003,d\n")
    assert survey.rows["label"].to_dict() == {
        "station-0006": "a",
        "station-0001": "b",
        "station-0008": "c",
        "station-0003": "d",
    }
    assert survey.generated == {"station-0006", "station-0008"}
    assert "2 rows have no id" in told(survey, "ids-made-up")


def test_ids_stay_text(read: Read) -> None:
    survey = read("stations", "id,label\n007,a\n7,b\n1e3,c\n 8 ,d\n")
    assert survey.rows.index.tolist() == ["007", "7", "1e3", "8"]


@pytest.mark.parametrize("word", ["", "-", "--", "n/a", "NaN", "NULL", "?"])
def test_words_for_nothing_are_nothing(read: Read, word: str) -> None:
    survey = read("stations", f"id,output,label\nS1,{word},{word}\n")
    assert survey.rows.loc["S1"].tolist() == [None, None]
    assert survey.findings == ()


def test_choices_in_any_case(read: Read) -> None:
    survey = read("valves", "id,kind,open\nV1,Pressure Reducing,YES\nV2,AIR,0\n")
    assert survey.rows["kind"].tolist() == ["pressure_reducing", "air"]
    assert survey.rows["open"].tolist() == [True, False]


EXPECTED = {"N1": 19.8, "N2": 15.24}


@pytest.mark.parametrize(
    "content",
    [
        "id,radius_m\nN1,19.8\nN2,15.24\n".encode("utf-8-sig"),
        b"id;radius_m\nN1;19,8\nN2;15,24\n",
        b"id;radius_m\nN1;19.8\nN2;15.24\n",
        b"id\tradius_m\nN1\t19.8\nN2\t15.24\n",
        b"id,radius_m\r\nN1,19.8\r\n\r\nN2,15.24\r\n",
        b'"id","radius_m"\n"N1","19.8"\n"N2","15.24"',
        "id,radius_m\nN1,19.8\nN2,15.24\n".encode("utf-16"),
        b"id,radius_m,\nN1,19.8,\nN2,1.524e1,\n",
    ],
)
def test_the_same_table_in_other_hands(read: Read, content: bytes) -> None:
    survey = read("nozzles", content)
    assert survey.rows["radius_m"].to_dict() == EXPECTED


def test_a_number_that_reads_two_ways_is_refused(read: Read) -> None:
    survey = read("nozzles", "id;radius_m\nN1;1.019,8\nN2;15,24\n")
    assert survey.rows.index.tolist() == ["N2"]
    assert "'1.019,8', which is no number" in told(survey, "bad-row")


def test_latin_1_is_read_with_a_note(read: Read) -> None:
    survey = read("stations", "id,label\nS1,Südgrün\n".encode("latin-1"))
    assert survey.rows.loc["S1", "label"] == "Südgrün"
    assert codes(survey) == ["not-utf-8"]


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "is empty"),
        (b",,\n1,2,3\n", "no header line"),
        (b"id,label,label\nS1,a,b\n", "two columns named 'label'"),
        (b"id,label\n\x00\x01\x02\n", "zero bytes"),
    ],
)
def test_what_is_no_table_is_refused_with_a_sentence(
    read: Read, content: bytes, words: str
) -> None:
    with pytest.raises(UserError, match=words):
        read("stations", content)


def test_files_that_are_not_there_or_of_no_known_kind(tmp_path: Path) -> None:
    with pytest.raises(UserError, match="no file"):
        read_table(tmp_path / "no.csv", TABLES["heads"], CRS, ReadOptions())
    path = tmp_path / "notes.docx"
    path.write_text("x")
    with pytest.raises(UserError, match=r"'.docx' are not read. Known: .csv"):
        read_table(path, TABLES["heads"], CRS, ReadOptions())


def test_coordinates_in_degrees_are_projected(read: Read) -> None:
    survey = read("heads", "id,lon,lat,arc_deg\nH1,-112.0,39.2,360\n")
    x, y = Transformer.from_crs("EPSG:4326", CRS, always_xy=True).transform(-112.0, 39.2)
    point = survey.rows.geometry["H1"]
    assert (point.x, point.y) == pytest.approx((x, y), abs=1e-6)
    assert survey.rows.crs == CRS
    assert survey.findings == ()


def test_columns_x_and_y_need_a_system(read: Read) -> None:
    text = "id,x,y\nH1,413000,4340000\n"
    with pytest.raises(UserError, match="--crs"):
        read("heads", text)
    survey = read("heads", text, crs=CRS)
    assert (survey.rows.geometry["H1"].x, survey.rows.geometry["H1"].y) == (413_000, 4_340_000)


def test_us_survey_feet_are_not_feet(read: Read) -> None:
    """The origin of Utah North in US survey feet: 500,000 m and 1,000,000 m exactly.

    Read as international feet it would lie 1 m west and 2 m south.
    """
    feet_per_m = 3937 / 1200
    text = f"id,easting,northing\nH1,{500_000 * feet_per_m},{1_000_000 * feet_per_m}\n"
    survey = read("heads", text, crs="EPSG:3560")
    point = survey.rows.geometry["H1"]
    back = Transformer.from_crs(CRS, "EPSG:4269", always_xy=True).transform(point.x, point.y)
    assert back == pytest.approx((-111.5, 40 + 1 / 3), abs=1e-7)


def test_degrees_in_another_datum_may_be_said_but_not_metres(read: Read) -> None:
    text = "id,longitude,latitude\nH1,-112.0,39.2\n"
    assert len(read("heads", text, crs="EPSG:4269").rows) == 1
    with pytest.raises(UserError, match="does not measure in"):
        read("heads", text, crs="EPSG:32612")
    with pytest.raises(UserError, match="not a known coordinate system"):
        read("heads", text, crs="EPSG:nowhere")


def test_decimal_commas_in_coordinates_only_where_the_file_has_them(read: Read) -> None:
    survey = read("heads", "id;lon;lat\nH1;-112,0;39,2\n")
    assert survey.rows.geometry["H1"].x == pytest.approx(413_662, abs=200)
    survey = read("heads", 'id,lon,lat\nH1,"-112,0",39.2\nH2,-112.0,39.2\n')
    assert survey.rows.index.tolist() == ["H2"]


@pytest.mark.parametrize("cells", [",39.2", "-112.0,", "x,39.2", "-112,139.2", "1e400,39.2"])
def test_a_bad_place_is_a_bad_row(read: Read, cells: str) -> None:
    survey = read("heads", f"id,lon,lat\nH1,-112.0,39.2\nH2,{cells}\n")
    assert survey.rows.index.tolist() == ["H1"]
    assert codes(survey) == ["bad-row"]


def test_well_known_text(read: Read) -> None:
    text = (
        "id,diameter_mm,wkt\n"
        'P1,54,"LINESTRING (0 0, 10 0)"\nP2,54,"MULTILINESTRING ((0 0, 1 0), (5 5, 6 5))"\n'
        'P3,54,"LINESTRING (0 0"\nP4,54,"POINT (1 1)"\n'
    )
    survey = read("pipes", text, crs=CRS)
    assert survey.rows.geometry.geom_type.tolist() == ["MultiLineString"] * 2
    assert survey.rows.geometry.length.tolist() == [10.0, 2.0]
    assert [("P3" in f.message, "P4" in f.message) for f in survey.findings] == [
        (True, False),
        (False, True),
    ]


def test_a_table_without_place_reads_without_one(read: Read) -> None:
    survey = read("pumps", "id,capacity_gpm\nPU1,1200\n")
    assert not isinstance(survey.rows, pd.DataFrame) or "geometry" not in survey.rows
    assert survey.rows.loc["PU1", "capacity_l_s"] == pytest.approx(75.708, abs=5e-4)


def test_a_value_for_the_whole_file(read: Read) -> None:
    survey = read("valves", "id,label\nV1,a\nV2,b\n", fixed={"kind": "Isolation"})
    assert survey.rows["kind"].tolist() == ["isolation"] * 2
    with pytest.raises(UserError, match="column 'kind' of its own"):
        read("valves", "id,kind\nV1,air\n", fixed={"kind": "isolation"})


def test_within_needs_places(read: Read) -> None:
    with pytest.raises(UserError, match="no geometry"):
        read("stations", "id,label\nS1,a\n", within="x")
