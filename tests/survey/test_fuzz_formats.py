"""Ten thousand mangled files of every kind: rows or a sentence, and no file left behind."""

from __future__ import annotations

import io
import json
import os
import random
import warnings
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import geopandas as gpd
import openpyxl
import pytest
from shapely.geometry import LineString, box

from nightwater.findings import UserError
from nightwater.ground.record import ground_from
from nightwater.ground.tables import TABLES
from nightwater.ground.validity import row_faults
from nightwater.survey.propose import propose
from nightwater.survey.read import ReadOptions, read_table
from nightwater.survey.sources import ENDINGS

CRS = "EPSG:32612"
EMPTY = ground_from(CRS, {})
GREENS = gpd.GeoDataFrame(
    {"id": [f"A{n}" for n in range(4)], "kind": "green", "slope_pct": [1.5, 2.0, None, 4.0]},
    geometry=[box(n * 1e-3 - 112, 39.2, n * 1e-3 - 111.9995, 39.2005) for n in range(4)],
    crs="EPSG:4326",
)
PIPES = gpd.GeoDataFrame(
    {"id": ["P1", "P2"], "diameter_in": [2.0, 4.0]},
    geometry=[LineString([(-112, 39.2), (-112, 39.2 + n)]) for n in (1e-3, 2e-3)],
    crs="EPSG:4326",
)


def placemark(name: str, n: int) -> str:
    west = -112 + n * 1e-3
    ring = f"{west},39.2,0 {west + 5e-4},39.2,0 {west + 5e-4},39.201,0 {west},39.2,0"
    return (
        f'<Placemark id="P{n}"><name>{name}</name><description>d</description><ExtendedData>'
        f'<Data name="slope_ft"><value>{n}</value></Data></ExtendedData><Polygon><outerBoundaryIs>'
        f"<LinearRing><coordinates>{ring}</coordinates></LinearRing></outerBoundaryIs></Polygon>"
        "</Placemark>"
    )


def kml() -> bytes:
    marks = [placemark(name, n) for n, name in enumerate(["hole_1_green", "bunker 2", "x"])]
    folders = f"<Folder><name>A</name>{marks[0]}</Folder><Folder><name>B</name>{marks[1]}</Folder>"
    head = '<?xml version="1.0"?><kml xmlns="http://www.opengis.net/kml/2.2"><Document>'
    return f"{head}<name>c</name>{marks[2]}{folders}</Document></kml>".encode()


def gpx() -> bytes:
    spots = "".join(
        f'<trkpt lat="{39.2 + y}" lon="{-112 + x}"><ele>9</ele></trkpt>'
        for x, y in [(0, 0), (1e-3, 0), (1e-3, 1e-3), (0, 0)]
    )
    way = '<wpt lat="39.2" lon="-112"><name>H1</name><time>2026-07-14T05:00:00Z</time></wpt>'
    track = f"<trk><name>green 7</name><trkseg>{spots}</trkseg></trk>"
    return f'<?xml version="1.0"?><gpx version="1.1" creator="x">{way}{track}</gpx>'.encode()


def elements() -> list[dict[str, Any]]:
    square = [(0, 0), (3, 0), (3, 3), (0, 3), (1, 1), (2, 1), (2, 2)]
    nodes = [
        {"type": "node", "id": n, "lon": -112 + x * 1e-3, "lat": 39.2 + y * 1e-3}
        for n, (x, y) in enumerate(square, 1)
    ]
    parts = [[1, 2, 3], [3, 4, 1], [5, 6, 7, 5]]
    ways = [{"type": "way", "id": n, "nodes": p} for n, p in enumerate(parts, 11)]
    green = {"type": "way", "id": 20, "nodes": [5, 6, 7, 5], "tags": {"golf": "green"}}
    members = [
        {"type": "way", "ref": n, "role": role}
        for n, role in ((11, "outer"), (12, "outer"), (13, "inner"))
    ]
    tags = {"type": "multipolygon", "golf": "fairway"}
    whole = {"type": "relation", "id": 5, "tags": tags, "members": members}
    return [*nodes, *ways, green, whole]


def osm() -> bytes:
    lines = []
    for row in elements():
        place = f' lon="{row["lon"]}" lat="{row["lat"]}"' if "lon" in row else ""
        inner = "".join(f'<nd ref="{n}"/>' for n in row.get("nodes", ()))
        inner += "".join(
            f'<member type="way" ref="{m["ref"]}" role="{m["role"]}"/>'
            for m in row.get("members", ())
        )
        inner += "".join(f'<tag k="{k}" v="{v}"/>' for k, v in row.get("tags", {}).items())
        lines.append(f'<{row["type"]} id="{row["id"]}"{place}>{inner}</{row["type"]}>')
    return f"<osm>{''.join(lines)}</osm>".encode()


def workbook() -> bytes:
    book = openpyxl.Workbook()
    for row in (["id", "lon", "lat", "arc_deg"], ["H1", -112, 39.2, 90], [2.0, -112.1, 39.2, None]):
        book.active.append(row)
    book.active["D3"] = "=90*2"
    content = io.BytesIO()
    book.save(content)
    return content.getvalue()


def packed(members: dict[str, bytes]) -> bytes:
    content = io.BytesIO()
    with zipfile.ZipFile(content, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, inner in members.items():
            archive.writestr(name, inner)
    return content.getvalue()


def written(frame: gpd.GeoDataFrame, folder: Path, name: str) -> bytes:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        frame.to_file(folder / name)
    return (folder / name).read_bytes()


def shapefile(folder: Path) -> dict[str, bytes]:
    written(GREENS, folder, "greens.shp")
    return {path.name: path.read_bytes() for path in sorted(folder.glob("greens.*"))}


def bitten(content: bytes, chance: random.Random) -> bytes:
    """Bytes changed, cut off, doubled, swapped or taken out."""
    for _ in range(chance.randint(1, 4)):
        here, there = sorted(chance.randrange(len(content) + 1) for _ in range(2))
        there = min(there, here + chance.choice([1, 2, 4, 16, 64, 1000]))
        chunk, noise = content[here:there], bytes(chance.randrange(256) for _ in range(3))
        how = chance.randrange(6)
        middle = (noise, b"", chunk * 2, chunk[::-1], b"\x00" * len(chunk), b"\xff" * len(chunk))[
            how
        ]
        content = content[:here] + middle + content[there:]
        if chance.random() < 0.1:
            content = content[: chance.randrange(len(content) + 1)]
    return content


WORDS = ["", "NaN", "-1", "1e309", "9" * 400, "inf", "ä", "\u202e", "<", ">", '"', "&", "]]>", "{}"]
WORDS += ["null", "[]", "0", "-181", "hole_1_2_tee", "green", "39.2,39.2", "&#0;", "<a/>", "id"]


def reworded(content: bytes, chance: random.Random) -> bytes:
    """Sound text with wrong words in the place of its own, mostly between its marks."""
    text = content.decode("utf-8", "replace")
    for _ in range(chance.randint(1, 3)):
        marks = [n for n, letter in enumerate(text) if letter in '>",:= ']
        here = chance.choice(marks or [0])
        there = next((n for n in marks if n > here), len(text))
        text = text[: here + 1] + chance.choice(WORDS) + text[there:]
    return text.encode("utf-8", "replace")


def text_hand(content: bytes, chance: random.Random) -> bytes:
    return (bitten if chance.random() < 0.4 else reworded)(content, chance)


def inner_hand(content: bytes, chance: random.Random) -> bytes:
    """An archive that is sound around a member that is not."""
    if chance.random() < 0.3:
        return bitten(content, chance)
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        members = {name: archive.read(name) for name in archive.namelist()}
    name = chance.choice(sorted(members))
    hand = reworded if name.endswith((".xml", ".kml", ".rels")) else bitten
    members[name] = hand(members[name], chance)
    return packed(members)


Hand = Callable[[bytes, random.Random], bytes]
# Ending → table, hand that mangles, how many.
KINDS: dict[str, tuple[str, Hand, int]] = {
    ".csv": ("heads", text_hand, 1400),
    ".geojson": ("pipes", text_hand, 1000),
    ".json": ("areas", text_hand, 1600),
    ".osm": ("areas", text_hand, 1600),
    ".kml": ("areas", text_hand, 1200),
    ".kmz": ("areas", inner_hand, 700),
    ".gpx": ("areas", text_hand, 1000),
    ".xlsx": ("heads", inner_hand, 500),
    ".gml": ("areas", text_hand, 300),
    ".fgb": ("areas", bitten, 400),
    ".shp": ("areas", bitten, 300),
    ".zip": ("areas", inner_hand, 200),
    ".gpkg": ("areas", bitten, 200),
}


def seed(ending: str, folder: Path) -> dict[str, bytes]:
    """A sound file of a kind, by name, and what must lie beside it."""
    folder.mkdir()
    heads = "id,lon,lat,arc_deg,spacing_ft\nH1,-112,39.2,90,65\nH2,-112.001,39.2,180,64.5\n"
    simple: dict[str, Callable[[], bytes]] = {
        ".csv": heads.encode,
        ".geojson": lambda: PIPES.to_json().encode(),
        ".json": lambda: json.dumps({"elements": elements()}).encode(),
        ".osm": osm,
        ".kml": kml,
        ".kmz": lambda: packed({"doc.kml": kml(), "icon.png": b"\x89PNG"}),
        ".gpx": gpx,
        ".xlsx": workbook,
        ".zip": lambda: packed(shapefile(folder)),
    }
    if ending == ".shp":
        return shapefile(folder)
    if ending in simple:
        return {f"greens{ending}": simple[ending]()}
    return {f"greens{ending}": written(GREENS, folder, f"greens{ending}")}


def survey_of(path: Path, table: str, *, proposed: bool = True) -> int:
    """How many rows are read; -1 where the file is refused with a sentence.

    What is read can be proposed, and what is proposed can stand in the record.
    """
    declared = TABLES[table]
    said = ReadOptions(near=(39.2, -112.0))
    sentence = ""
    try:
        survey = read_table(path, declared, CRS, said)
    except UserError as refusal:
        sentence = str(refusal)
    if sentence:
        assert path.name in sentence or "coordinate system" in sentence
        return -1
    if not proposed:
        return len(survey.rows)
    proposal = propose(EMPTY, declared, survey)
    changes = [*proposal.added.values(), *proposal.doubtful.values()]
    assert all(row_faults(declared, change.after or {}) == [] for change in changes)
    return len(survey.rows)


def test_every_ending_is_mangled_ten_thousand_times_in_all() -> None:
    known = {".tsv", ".txt", ".xlsm"}  # read by the readers of .csv and .xlsx
    elsewhere = {".dxf", ".inp"}  # the engine itself reads .inp, in a process of its own
    assert {*KINDS, *known} >= set(ENDINGS) - elsewhere
    assert sum(count for _, _, count in KINDS.values()) >= 10_000


@pytest.mark.parametrize("ending", sorted(KINDS))
def test_mangled_files_give_rows_or_a_sentence(tmp_path: Path, ending: str) -> None:
    table, hand, count = KINDS[ending]
    chance = random.Random(f"nightwater {ending}")
    files = seed(ending, tmp_path / "seed")
    work = tmp_path / "work"
    work.mkdir()
    main = f"greens{ending}"
    for name, content in files.items():
        (work / name).write_bytes(content)
    whole = survey_of(work / main, table)
    assert whole >= 1
    outcomes = []
    with warnings.catch_warnings():
        warnings.simplefilter("error", RuntimeWarning)
        for turn in range(count * int(os.environ.get("NIGHTWATER_FUZZ", "1"))):
            bad = chance.choice(sorted(files))
            (work / bad).write_bytes(hand(files[bad], chance))
            outcomes.append(survey_of(work / main, table, proposed=turn % 5 == 0))
            assert sorted(path.name for path in work.iterdir()) == sorted(files)
            (work / bad).write_bytes(files[bad])
    assert sum(outcome >= 0 for outcome in outcomes) > count / 50
    assert sum(outcome < 0 for outcome in outcomes) > count / 50
    assert max(outcomes) <= 40 * whole  # doubled bytes make no multitudes
