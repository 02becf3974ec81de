"""Mangled drawings: rows or a sentence, never a crash, never a wait."""

from __future__ import annotations

import io
import logging
import random
import time
from pathlib import Path

import ezdxf
import pytest
import shapely

from nightwater.findings import UserError
from nightwater.ground.tables import TABLES
from nightwater.survey.drawing import drawing_layers
from nightwater.survey.read import ReadOptions, SurveyRows, read_table

CRS = "EPSG:32612"
MUTANTS = 2_100
SLOWEST_S = 15.0
NUMBERS = ["0", "-1", "1", "2", "3", "64", "255", "1.5", "1e308", "-1e308", "1e-320", "1e9",
           "32767", "2147483648", "-0.0", "9" * 40, "nan", "inf"]  # fmt: skip
WORDS = ["", "SECTION", "ENDSEC", "EOF", "INSERT", "HEAD", "OUTER", "LINE", "SEQEND", "\\U+D800",
         "\\U+0000", "ä", "\udc80", "x" * 300, "%%c", "{", "*U1", "TABLE", "BLOCK", "*Model_Space",
         "HATCH", "CIRCLE", "LWPOLYLINE", "VERTEX", "POLYLINE", "3DSOLID", "IMAGE"]  # fmt: skip
CODES = ["0", "1", "2", "5", "8", "10", "20", "40", "41", "42", "50", "66", "70", "71", "90", "91",
         "92", "93", "100", "210", "230", "330", "-1", "999", "1001",
         "1000", "1071", "x", ""]  # fmt: skip


def plain_tags(document: ezdxf.document.Drawing) -> str:
    """Entities and blocks of a drawing as the leanest file that still holds them."""
    stream = io.StringIO()
    document.write(stream)
    text = stream.getvalue()
    start = text.index("  0\nSECTION\n  2\nBLOCKS\n")
    objects = text.find("  0\nSECTION\n  2\nOBJECTS\n")
    body = text[start : objects if objects > 0 else None]
    version = document.dxfversion
    head = f"  0\nSECTION\n  2\nHEADER\n  9\n$ACADVER\n  1\n{version}\n  0\nENDSEC\n"
    return head + body + ("" if objects < 0 else "  0\nEOF\n")


def old_drawing() -> str:
    """R12: blocks with attributes in blocks, a grid, arcs, bulges, texts, heights."""
    document = ezdxf.new("R12")
    head = document.blocks.new("HEAD")
    head.add_circle((0, 0), 1)
    head.add_attdef("ID", (1, 1))
    outer = document.blocks.new("OUTER")
    outer.add_blockref("HEAD", (5, 5)).add_auto_attribs({"ID": "H9"})
    space = document.modelspace()
    for number in range(4):
        spot = (number * 60, 10)
        space.add_blockref("HEAD", spot).add_auto_attribs({"ID": f"H{number}"})
        space.add_text(f"L{number}").set_placement((number * 60 + 2, 12))
    grid = space.add_blockref("HEAD", (0, 200))
    grid.dxf.row_count, grid.dxf.column_count = 2, 2
    grid.dxf.row_spacing = grid.dxf.column_spacing = 30
    space.add_blockref("OUTER", (50, 50), dxfattribs={"rotation": 30, "xscale": 2})
    space.add_line((0, 0), (50, 0))
    space.add_arc((50, 25), 25, 270, 90)
    space.add_line((50, 50), (0, 50))
    space.add_line((0, 50), (0, 0))
    space.add_polyline2d([(0, 0, 0.5), (9, 0, 0), (9, 9, 0)], format="xyb", close=True)
    space.add_circle((5, 5), 3)
    space.add_point((7, 7, 3))
    return plain_tags(document)


def new_drawing() -> str:
    """R2000: light polylines, hatches by line and edge, ellipse, spline, long text."""
    document = ezdxf.new("R2000")
    space = document.modelspace()
    space.add_lwpolyline([(0, 0, 0, 0, 1), (9, 0), (9, 9)], close=True)
    hatch = space.add_hatch()
    hatch.paths.add_polyline_path([(0, 0, 0.3), (9, 0), (9, 9)], is_closed=True)
    path = hatch.paths.add_edge_path()
    path.add_line((2, 2), (4, 2))
    path.add_arc((4, 3), 1, 270, 90)
    path.add_spline(control_points=[(4, 4), (3, 5), (2, 4), (2, 3)])
    path.add_line((2, 3), (2, 2))
    space.add_ellipse((20, 20), (8, 2), 0.4)
    space.add_spline([(0, 0), (5, 9), (9, 3), (12, 4)])
    space.add_mtext("{\\fArial;Green} 7", dxfattribs={"insert": (3, 3)})
    space.add_point((3, 4))
    return plain_tags(document)


SEEDS = {"old": old_drawing, "new": new_drawing}


def mangled(text: str, chance: random.Random) -> bytes:
    """A few edits as bad hands, bad disks and bad programs make them."""
    lines = text.split("\n")
    for _ in range(chance.randint(1, 4)):
        spot, deed = chance.randrange(len(lines)), chance.random()
        value = min(spot | 1, len(lines) - 1)
        if deed < 0.7:
            numeric = lines[value].strip("-").replace(".", "").isdigit()
            rarely = chance.random() < 0.05
            lines[value] = chance.choice(NUMBERS if numeric != rarely else WORDS)
        elif deed < 0.75:
            lines[spot & ~1] = chance.choice(CODES)
        elif deed < 0.85:
            start = spot & ~1
            del lines[start : start + chance.choice([1, 2, 2, 4, 40])]
        elif deed < 0.97:
            start = chance.randrange(len(lines)) & ~1
            lines[spot & ~1 : spot & ~1] = lines[start : start + chance.choice([2, 10, 40])]
        else:
            lines = lines[: max(spot, 10)]
    content = "\n".join(lines).encode("utf-8", "surrogateescape")
    if chance.random() < 0.1:
        position = chance.randrange(len(content) + 1)
        content = content[:position] + bytes(chance.randrange(256) for _ in range(4))
    return content


def check(survey: SurveyRows) -> int:
    """Rows are finite and have only text that can be stored."""
    shapes = survey.rows.geometry
    assert shapely.is_valid(shapes.to_numpy()).all()
    assert not shapely.is_empty(shapes.to_numpy()).any()
    for finding in survey.findings:
        finding.message.encode()
    str(survey.rows.drop(columns="geometry").to_dict("records")).encode()
    return len(shapes)


@pytest.mark.parametrize("seed", sorted(SEEDS))
@pytest.mark.parametrize("table", ["heads", "pipes", "areas"])
def test_the_seeds_load(tmp_path: Path, seed: str, table: str) -> None:
    path = tmp_path / "seed.dxf"
    path.write_text(SEEDS[seed]())
    options = ReadOptions(crs=CRS, drawing_unit="ft", fixed=FIXED[table])
    assert check(read_table(path, TABLES[table], CRS, options)) > 0


FIXED = {"heads": {}, "pipes": {"diameter_mm": "50"}, "areas": {"kind": "green"}}


def test_mangled_drawings_are_read_or_refused(tmp_path: Path) -> None:
    logging.getLogger("ezdxf").setLevel(logging.CRITICAL)
    chance = random.Random("nightwater drawing")
    texts = [make() for make in SEEDS.values()]
    path = tmp_path / "mangled.dxf"
    sound = refused = 0
    started, slowest = time.process_time(), 0.0
    for turn in range(MUTANTS):
        path.write_bytes(mangled(texts[turn % 2], chance))
        table = ("heads", "areas", "pipes")[turn // 2 % 3]
        options = ReadOptions(crs=CRS, drawing_unit="ft", fixed=FIXED[table])
        before = time.process_time()
        try:
            if turn % 20 == 0:
                drawing_layers(path)
            sound += check(read_table(path, TABLES[table], CRS, options)) > 0
        except UserError as problem:
            str(problem).encode()
            refused += 1
        slowest = max(slowest, time.process_time() - before)
    assert sound > MUTANTS / 4
    assert refused > MUTANTS / 20
    assert slowest < 2.0
    assert time.process_time() - started < SLOWEST_S * 2  # a busy machine
