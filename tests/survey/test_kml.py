"""KML and KMZ: folders, names, extended data, archives that unpack to too much."""

from __future__ import annotations

import zipfile
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest

from nightwater.findings import UserError
from nightwater.ground.record import ground_from
from nightwater.ground.tables import TABLES
from nightwater.survey.propose import propose
from nightwater.survey.read import ReadOptions, SurveyRows, read_table

CRS = "EPSG:32612"


def ring(n: int) -> str:
    west, south = -112 + n * 0.001, 39.2
    spots = [(0, 0), (0.0003, 0), (0.0003, 0.0002), (0, 0.0002), (0, 0)]
    return " ".join(f"{west + x:.6f},{south + y:.6f},0" for x, y in spots)


def polygon(name: str | None, n: int, more: str = "", key: str = "") -> str:
    named = "" if name is None else f"<name>{name}</name>"
    mark = f' id="{key}"' if key else ""
    return (
        f"<Placemark{mark}>{named}{more}<Polygon><outerBoundaryIs><LinearRing><coordinates>"
        f"{ring(n)}</coordinates></LinearRing></outerBoundaryIs></Polygon></Placemark>"
    )


def line(name: str, n: int) -> str:
    return (
        f"<Placemark><name>{name}</name><LineString><coordinates>{-112 + n * 1e-3},39.2 "
        f"{-112 + n * 1e-3},39.203</coordinates></LineString></Placemark>"
    )


def point(name: str, n: int, more: str = "", height: float = 0) -> str:
    return (
        f"<Placemark><name>{name}</name>{more}<Point><coordinates>{-112 + n * 1e-4:.6f},39.2,"
        f"{height}</coordinates></Point></Placemark>"
    )


def extended(**values: object) -> str:
    inner = "".join(f'<Data name="{k}"><value>{v}</value></Data>' for k, v in values.items())
    return f"<ExtendedData>{inner}</ExtendedData>"


def document(folders: dict[str, Sequence[str]], title: str = "course") -> str:
    parts = (f"<Folder><name>{k}</name>{''.join(v)}</Folder>" for k, v in folders.items())
    return (
        '<?xml version="1.0" encoding="UTF-8"?><kml xmlns="http://www.opengis.net/kml/2.2">'
        f"<Document><name>{title}</name>{''.join(parts)}</Document></kml>"
    )


def written(tmp_path: Path, text: str, name: str = "course.kml") -> Path:
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    return path


def read(path: Path, table: str = "areas", **said: Any) -> SurveyRows:
    return read_table(path, TABLES[table], CRS, ReadOptions(**said))


def messages(survey: SurveyRows, code: str) -> list[str]:
    return [finding.message for finding in survey.findings if finding.code == code]


def test_folders_are_read_together_and_told(tmp_path: Path) -> None:
    path = written(
        tmp_path,
        document({"Front": [polygon("hole_1_green", 1)], "Back": [polygon("hole_10_tee", 2)]}),
    )
    survey = read(path)
    assert survey.rows["kind"].tolist() == ["green", "tee"]
    assert survey.rows["label"].tolist() == ["hole_1_green", "hole_10_tee"]
    assert survey.rows["hole"].tolist() == ["1", "10"]
    assert list(survey.places.values()) == ["Front, placemark 1", "Back, placemark 1"]
    (told,) = messages(survey, "folders-together")
    assert "2 folders" in told
    assert "Front (1), Back (1)" in told


def test_one_folder_can_be_named(tmp_path: Path) -> None:
    path = written(
        tmp_path,
        document({"Front": [polygon("hole_1_green", 1)], "Back": [polygon("hole_10_tee", 2)]}),
    )
    survey = read(path, layer="Back")
    assert survey.rows["kind"].tolist() == ["tee"]
    assert not messages(survey, "folders-together")
    with pytest.raises(UserError, match=r"no folder 'Middle'\. It holds Front, Back"):
        read(path, layer="Middle")


def test_folder_name_description_and_data_are_columns(tmp_path: Path) -> None:
    more = "<description>by the oak</description>" + extended(arc_deg=180, spacing_ft=65)
    path = written(tmp_path, document({"Heads": [point("H7", 1, more)]}))
    survey = read(
        path, "heads", columns={"description": "condition", "folder": "evidence"}, units={}
    )
    assert survey.unreadable == 1  # 'by the oak' is no condition: the column was read
    assert "by the oak" in messages(survey, "bad-row")[0]
    plain = read(path, "heads")
    (row,) = plain.rows.to_dict("records")
    assert (row["label"], row["arc_deg"]) == ("H7", 180.0)
    assert row["spacing_m"] == pytest.approx(65 * 0.3048)
    assert {m.split("'")[1] for m in messages(plain, "unknown-column")} == {
        "description",
        "folder",
    }


def test_places_are_longitude_and_latitude(tmp_path: Path) -> None:
    survey = read(written(tmp_path, document({"A": [polygon("green 1", 0)]})))
    shape = survey.rows.to_crs("EPSG:4326").geometry.iloc[0]
    assert shape.bounds == pytest.approx((-112, 39.2, -111.9997, 39.2002), abs=1e-7)
    with pytest.raises(UserError, match="declares"):
        read(tmp_path / "course.kml", crs="EPSG:27700")


def test_heights_of_zero_are_none_and_others_are_told(tmp_path: Path) -> None:
    flat = read(written(tmp_path, document({"A": [point("a", 1), point("b", 2)]})), "heads")
    assert not messages(flat, "heights-left-aside")
    tall = read(
        written(tmp_path, document({"A": [point("a", 1), point("b", 2, height=9)]})), "heads"
    )
    assert len(messages(tall, "heights-left-aside")) == 1
    assert not any(shape.has_z for shape in tall.rows.geometry)


def test_other_geometry_in_the_file_is_counted_not_refused(tmp_path: Path) -> None:
    text = document({"All": [polygon("hole_4_green", 1), line("Hole 4", 2), point("H1", 3)]})
    path = written(tmp_path, text)
    areas, holes, heads = (read(path, table) for table in ("areas", "holes", "heads"))
    assert [len(areas.rows), len(holes.rows), len(heads.rows)] == [1, 1, 1]
    assert not areas.refused | holes.refused | heads.refused
    assert "2 features are not areas" in messages(areas, "features-skipped")[0]
    assert holes.rows["number"].tolist() == [4]
    assert heads.rows["label"].tolist() == ["H1"]


def test_an_own_kind_column_wins_over_names(tmp_path: Path) -> None:
    path = written(
        tmp_path, document({"A": [polygon("hole_3_green", 1, extended(kind="tee", hole="X"))]})
    )
    survey = read(path)
    assert survey.rows[["kind", "hole"]].to_numpy().tolist() == [["tee", "X"]]
    assert not messages(survey, "kind-not-told")
    fixed = read(written(tmp_path, document({"A": [polygon(None, 1)]})), fixed={"kind": "rough"})
    assert fixed.rows["kind"].tolist() == ["rough"]


def test_ids_numbered_anew_in_each_folder_are_left_aside(tmp_path: Path) -> None:
    text = document(
        {"A": [polygon("green 1", 1, key="ID_0")], "B": [polygon("green 2", 2, key="ID_0")]}
    )
    survey = read(written(tmp_path, text))
    assert len(survey.rows) == 2
    assert "1 placemarks bear an id" in messages(survey, "ids-not-unique")[0]
    unique = text.replace('id="ID_0"', 'id="ID_1"', 1)
    assert sorted(read(written(tmp_path, unique)).rows.index) == ["ID_0", "ID_1"]


def test_holes_by_number_become_links(tmp_path: Path) -> None:
    path = written(
        tmp_path,
        document({"A": [polygon(f"hole_{n}_green", n, key=f"G{n}") for n in (1, 2, 3)]}),
    )
    holes = read(
        written(tmp_path, document({"H": [line("Hole 1", 1), line("Hole 2", 2)]}), "holes.kml"),
        "holes",
    ).rows
    ground = ground_from(CRS, {"holes": holes})
    proposal = propose(ground, TABLES["areas"], read(path))
    assert [proposal.added[f"G{n}"].after["hole"] for n in (1, 2, 3)] == [  # type: ignore[index]
        "hole-0001",
        "hole-0002",
        None,
    ]
    (told,) = [f for f in proposal.findings if f.code == "hole-not-in-record"]
    assert "1 names" in told.message


def kmz(tmp_path: Path, members: dict[str, bytes], name: str = "course.kmz") -> Path:
    path = tmp_path / name
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for member, content in members.items():
            archive.writestr(member, content)
    return path


def test_a_kmz_gives_the_rows_of_its_kml(tmp_path: Path) -> None:
    text = document({"A": [polygon("hole_1_green", 1), polygon("bunker_4", 2)]})
    packed = read(kmz(tmp_path, {"files/icon.png": b"\x89PNG" * 50, "doc.kml": text.encode()}))
    plain = read(written(tmp_path, text))
    assert packed.rows.drop(columns="geometry").equals(plain.rows.drop(columns="geometry"))
    assert packed.rows.geometry.geom_equals(plain.rows.geometry).all()
    assert packed.rows["hole"].tolist() == ["1", "4"]


def test_several_kml_members_are_read_together(tmp_path: Path) -> None:
    one = document({"A": [polygon("hole_1_green", 1)]}).encode()
    two = document({"B": [polygon("hole_2_green", 2)]}).encode()
    assert len(read(kmz(tmp_path, {"doc.kml": one, "more/two.kml": two})).rows) == 2


def test_archives_without_a_map_or_not_whole_are_refused(tmp_path: Path) -> None:
    with pytest.raises(UserError, match=r"holds no \.kml file"):
        read(kmz(tmp_path, {"readme.txt": b"x"}))
    whole = kmz(tmp_path, {"doc.kml": document({"A": [polygon("green", 1)]}).encode()}).read_bytes()
    for cut in (10, len(whole) // 2, len(whole) - 5):
        (tmp_path / "cut.kmz").write_bytes(whole[:cut])
        with pytest.raises(UserError, match=r"cut\.kmz"):
            read(tmp_path / "cut.kmz")


def test_an_archive_that_unpacks_to_too_much_is_refused_unopened(tmp_path: Path) -> None:
    text = document({"A": [polygon("green", 1)]}).encode()
    many_times = kmz(tmp_path, {"doc.kml": text + b" " * 15_000_000})
    with pytest.raises(UserError, match=r"times its size; up to 200 times is read"):
        read(many_times)
    chunk = b"\0" * (70 * 1024 * 1024)
    too_large = kmz(tmp_path, {f"{n}.bin": chunk for n in range(3)} | {"doc.kml": text})
    with pytest.raises(UserError, match=r"would unpack to 220 MB; up to 210 MB are read"):
        read(too_large)
    many = kmz(tmp_path, {f"{n}": b"" for n in range(10_001)})
    with pytest.raises(UserError, match=r"10,001 files"):
        read(many)


def test_a_declared_size_that_lies_is_no_way_round_the_limit(tmp_path: Path) -> None:
    text = document({"A": [polygon("green", 1)]}).encode() + b" " * 1_000_000
    path = kmz(tmp_path, {"doc.kml": text})
    content = path.read_bytes().replace(len(text).to_bytes(4, "little"), (50).to_bytes(4, "little"))
    assert content != path.read_bytes()
    path.write_bytes(content)
    with pytest.raises(UserError, match="cannot be unpacked"):
        read(path)


def test_a_member_with_a_password_is_refused(tmp_path: Path) -> None:
    path = kmz(tmp_path, {"doc.kml": document({"A": [polygon("green", 1)]}).encode()})
    content = bytearray(path.read_bytes())
    content[6] |= 1
    central = content.index(b"PK\x01\x02")
    content[central + 8] |= 1
    path.write_bytes(bytes(content))
    with pytest.raises(UserError, match="password"):
        read(path)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "is empty"),
        ("{}", "not sound XML"),
        ("<kml", "not sound XML"),
        ("<gpx></gpx>", "its root is gpx, not kml"),
        ('<OGRVRTDataSource><OGRVRTLayer name="x"/></OGRVRTDataSource>', "its root is OGRVRT"),
        ('<!DOCTYPE a [<!ENTITY b "c">]><kml>&b;</kml>', "declares entities"),
        ("<kml><Document><Folder></kml>", "cannot be read as KML"),
    ],
)
def test_what_is_no_kml_is_refused_with_a_sentence(tmp_path: Path, text: str, words: str) -> None:
    with pytest.raises(UserError, match=words):
        read(written(tmp_path, text))


def test_entities_hidden_by_another_coding_are_refused(tmp_path: Path) -> None:
    path = tmp_path / "course.kml"
    path.write_bytes('<?xml version="1.0"?><!DOCTYPE a><kml/>'.encode("utf-16"))
    with pytest.raises(UserError, match="declares entities"):
        read(path)


def test_a_file_without_placemarks_gives_no_rows(tmp_path: Path) -> None:
    survey = read(written(tmp_path, document({})))
    assert survey.rows.empty
    assert survey.source == "course.kml"
