"""Tomas brings an aerial photo in by page: with a place, with a world file, zipped, or bare."""

from __future__ import annotations

import io
import re
import zipfile
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import rasterio
from affine import Affine
from PIL import Image

WORLD = b"0.5\n0\n0\n-0.5\n413300.25\n4339399.75\n"
PLACE = {"left": 413_300.0, "top": 4_339_400.0}


def png(width: int = 300, height: int = 200) -> bytes:
    target = io.BytesIO()
    Image.new("RGB", (width, height), "green").save(target, "PNG")
    return target.getvalue()


def geotiff(path: Path) -> bytes:
    where = Affine(0.5, 0, PLACE["left"], 0, -0.5, PLACE["top"])
    with rasterio.open(
        path, "w", driver="GTiff", width=300, height=200, count=3, dtype="uint8",
        transform=where, crs="EPSG:32612",
    ) as target:  # fmt: skip
        target.write(np.full((3, 200, 300), 90, dtype=np.uint8))
    return path.read_bytes()


def zipped(**members: bytes) -> bytes:
    target = io.BytesIO()
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in members.items():
            archive.writestr(name, content)
    return target.getvalue()


def send(visitor: Any, file: tuple[str, bytes], world: Any = ("", b""), **more: str) -> Any:
    return visitor.client.post(
        "/ground/add-image/read",
        data={"token": visitor.token(), **more},
        files={"file": file, "world": world},
        headers={"sec-fetch-site": "same-origin"},
    )


def place(answer: Any) -> str:
    assert answer.status_code == 303, answer.text
    return str(answer.headers["location"])


def accept(visitor: Any, address: str, **said: str) -> Any:
    return visitor.post(f"{address.partition('?')[0]}/accept", **said)


def listed(served: Any) -> list[dict[str, Any]]:
    images: list[dict[str, Any]] = served.who("Vera").get("/ground/images.json").json()["images"]
    return images


def check_placed(served: Any, name: str) -> None:
    (image,) = listed(served)
    assert image["id"] == name
    left, bottom, right, top = image["extent_m"]
    np.testing.assert_allclose((left, top), (PLACE["left"], PLACE["top"]), atol=0.01)
    np.testing.assert_allclose((right - left, top - bottom), (150, 100), atol=0.01)


def test_a_picture_that_knows_its_place_is_put_on_the_map(served: Any, tmp_path: Path) -> None:
    tomas = served.who("Tomas")
    address = place(send(tomas, ("flight.tif", geotiff(tmp_path / "f.tif"))))
    page = tomas.get(address).text
    assert "300 × 200 pixels" in page
    assert "492 ft from west to east, 328 ft from south to north, 0.50 m to a pixel" in page
    assert "Put it on the map" in page
    assert listed(served) == []  # nothing yet
    answer = accept(tomas, address)
    assert (answer.status_code, answer.headers["location"]) == (303, "/ground#map")
    check_placed(served, "flight")
    from nightwater.store.course_file import CourseFile

    with CourseFile.open(served.path) as file:
        last = file.revisions().iloc[-1]
    assert (last["who"], last["why"]) == ("Tomas", "picture flight.tif")
    assert tomas.get(address).status_code == 404  # gone from the server once it is kept


def test_a_picture_and_its_world_file_come_as_two_files(served: Any) -> None:
    tomas = served.who("Tomas")
    sent = send(tomas, ("scan.png", png()), ("anything.pgw", WORLD))
    address = place(sent)
    page = tomas.get(address).text
    assert 'role="alert"' in page
    assert "does not say in which coordinate system" in page
    assert "Put it on the map" not in page
    assert "Put it on the map" in tomas.get(f"{address.partition('?')[0]}?crs=EPSG:32612").text
    assert accept(tomas, address).status_code == 400
    assert accept(tomas, address, crs="EPSG:32612", name="Drawing of 1998").status_code == 303
    check_placed(served, "drawing-of-1998")


def test_a_zip_brings_picture_world_file_and_system(served: Any) -> None:
    system = rasterio.CRS.from_epsg(32612).to_wkt().encode()
    content = zipped(**{"d/a.png": png(), "d/a.pgw": WORLD, "d/a.prj": system})
    tomas = served.who("Tomas")
    assert accept(tomas, place(send(tomas, ("may.zip", content)))).status_code == 303
    check_placed(served, "may")


def test_a_picture_without_place_goes_on_to_its_points(served: Any) -> None:
    tomas = served.who("Tomas")
    address = place(send(tomas, ("photo.png", png())))
    assert "Keep it and pick points" in tomas.get(address).text
    answer = accept(tomas, address)
    assert (answer.status_code, answer.headers["location"]) == (303, "/ground/place-image/photo")
    assert tomas.get("/ground/place-image/photo").status_code == 200
    assert listed(served) == []


@pytest.mark.parametrize(
    ("file", "world", "sentence"),
    [
        (("a.exe", b"x"), ("", b""), "no picture that can be read"),
        (("a.png", b""), ("", b""), "a.png is empty"),
        (("a.png", png(9, 9)), ("a.pgw", b"1 2 3"), "must hold six numbers"),
    ],
)
def test_what_is_no_picture_is_refused_at_once(
    served: Any, file: Any, world: Any, sentence: str
) -> None:
    answer = send(served.who("Tomas"), file, world)
    assert answer.status_code == 400
    assert sentence in answer.text


@pytest.mark.parametrize(
    ("file", "sentence"),
    [
        (("a.png", b"no picture"), "neither a PNG, nor a JPEG, nor a TIFF"),
        (("a.zip", b"no archive"), "cannot be unpacked"),
        (("a.zip", zipped(a=b"1")), "holds no picture; one is wanted"),
        (("a.zip", zipped(**{"a.png": png(), "b.jpg": b"x"})), "holds 2 pictures"),
    ],
)
def test_what_cannot_be_read_is_told_on_its_page(served: Any, file: Any, sentence: str) -> None:
    tomas = served.who("Tomas")
    address = place(send(tomas, file))
    page = tomas.get(address).text
    assert 'role="alert"' in page
    assert sentence in page
    assert accept(tomas, address).status_code == 400
    assert listed(served) == []


def test_a_body_is_counted_while_it_is_read(served: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    from nightwater.web import security

    assert security.most_body_bytes("/ground/add-image/read") == 201 * 1024 * 1024
    assert security.most_body_bytes("/ground/add-image/abc/accept") == 65_536
    monkeypatch.setitem(security.LARGER_BODIES, "/ground/add-image/read", 2 * 1024 * 1024)
    answer = send(served.who("Tomas"), ("a.png", bytes(2 * 1024 * 1024)))
    assert (answer.status_code, answer.text) == (413, "At most 2 MB can be sent.")


def test_a_picture_over_the_limit_is_refused(served: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("nightwater.web.images.sent.MAX_BYTES", 1000)
    answer = send(served.who("Tomas"), ("a.png", bytes(1001)))
    assert answer.status_code == 400
    assert "pictures up to 200 MB are read" in answer.text


def test_a_name_never_leads_out_of_the_folder(served: Any) -> None:
    tomas = served.who("Tomas")
    page = tomas.get(place(send(tomas, ("../../etc/a<b>.png", png())))).text
    assert re.search(r"<h1>a_b_\.png", page)


def test_another_persons_picture_is_not_found(served: Any) -> None:
    address = place(send(served.who("Tomas"), ("a.png", png())))
    assert served.who("Ines").get(address).status_code == 404
    assert served.who("Tomas").get("/ground/add-image/" + "0" * 32).status_code == 404
    second = place(send(served.who("Tomas"), ("b.png", png())))
    assert served.who("Tomas").get(address).status_code == 404  # one picture a person
    assert served.who("Tomas").get(second).status_code == 200


@pytest.mark.parametrize("name", ["Pilar", "Vera"])
def test_others_learn_why_they_may_not(served: Any, name: str) -> None:
    page = served.who(name).get("/ground/add-image").text
    assert "may place a picture; your role is" in page
    assert send(served.who(name), ("a.png", png())).status_code == 403


def test_a_form_without_token_is_refused_and_strangers_log_in(served: Any) -> None:
    assert send(served.who("Tomas"), ("a.png", png()), token="x").status_code == 403
    assert "/login" in served.stranger().get("/ground/add-image").headers["location"]
    assert '<a href="/ground/add-image">' in served.who("Vera").get("/ground").text
