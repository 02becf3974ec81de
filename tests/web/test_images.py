"""Squares of pictures and the page where one is placed."""

from __future__ import annotations

import io
import re
from pathlib import Path
from typing import Any
from urllib.parse import quote

import numpy as np
import pytest
from PIL import Image

from nightwater.ground.transforms import TransformKind, transform_from

TRUTH = transform_from(
    TransformKind.SIMILARITY, [[0.5, 0.1, 413_300], [0.1, -0.5, 4_339_400], [0, 0, 1]]
)
PICKED = np.array([[20, 20], [580, 30], [560, 380], [40, 370], [300, 200], [200, 300]], float)


def points_text(count: int, wrong: int | None = None) -> str:
    places = TRUTH.to_map_m(PICKED)
    if wrong is not None:
        places[wrong] += [40.0, 30.0]
    rows = np.column_stack([PICKED, places])[:count]
    return ";".join(",".join(f"{value:.2f}" for value in row) for row in rows)


@pytest.fixture
def pictured(served: Any, tmp_path: Path) -> Any:
    """The served course with one picture that has no place yet."""
    from nightwater.desk.course import open_course
    from nightwater.desk.imaging import ImageWish, accept_image, propose_image

    x, y = np.meshgrid(np.arange(600), np.arange(400))
    colours = np.stack([x % 256, y % 256, (x + y) % 256], -1).astype(np.uint8)
    Image.fromarray(colours).save(tmp_path / "flight.png")
    with open_course(served.path) as course:
        proposal = propose_image(course, tmp_path / "flight.png", ImageWish())
        accept_image(course, proposal, who="Pilar", why="flight", now=served.clock())
    return served


def place(pictured: Any, text: str) -> Any:
    return pictured.who("Tomas").post("/ground/place-image/flight", points=text)


@pytest.fixture
def placed(pictured: Any) -> Any:
    assert place(pictured, points_text(6)).status_code == 303
    return pictured


def address(served: Any, z: int = 0, x: int = 0, y: int = 0) -> str:
    (listed,) = served.who("Vera").get("/ground/images.json").json()["images"]
    found: str = listed["address"].replace("{z}", str(z)).replace("{x}", str(x))
    return found.replace("{y}", str(y))


def test_the_list_holds_what_the_map_needs(placed: Any) -> None:
    (listed,) = placed.who("Vera").get("/ground/images.json").json()["images"]
    assert (listed["id"], listed["label"], listed["tile_px"]) == ("flight", "flight", 512)
    left, bottom, right, top = listed["extent_m"]
    corners = TRUTH.to_map_m([[0, 0], [600, 0], [600, 400], [0, 400]])
    np.testing.assert_allclose([left, bottom], corners.min(axis=0), atol=0.05)
    np.testing.assert_allclose([right, top], corners.max(axis=0), atol=0.05)
    assert listed["origin_m"] == [left, top]
    assert listed["resolutions_m"] == sorted(listed["resolutions_m"], reverse=True)


def test_a_picture_without_place_is_not_on_the_map(pictured: Any) -> None:
    assert pictured.who("Vera").get("/ground/images.json").json() == {"images": []}
    assert pictured.who("Vera").get("/ground/images/flight/0/0/0").status_code == 404
    page = pictured.who("Vera").get("/ground").text
    assert '<a href="/ground/place-image/flight">Place flight</a>' in page
    assert 'name="picture"' not in page


def test_a_square_is_a_picture_and_kept_for_ever_under_its_edition(placed: Any) -> None:
    answer = placed.who("Vera").get(address(placed))
    assert answer.status_code == 200
    assert Image.open(io.BytesIO(answer.content)).size == (512, 512)
    assert answer.headers["content-type"] in ("image/png", "image/jpeg")
    assert answer.headers["cache-control"] == "private, max-age=31536000, immutable"
    bare = placed.who("Vera").get("/ground/images/flight/0/0/0?v=old")
    assert bare.headers["cache-control"] == "private, no-cache"


def test_a_square_that_the_browser_has_is_not_sent_again(placed: Any) -> None:
    vera = placed.who("Vera")
    tag = vera.get(address(placed)).headers["etag"]
    again = vera.get(address(placed), headers={"if-none-match": tag})
    assert (again.status_code, again.content) == (304, b"")
    assert vera.get(address(placed), headers={"if-none-match": '"x"'}).status_code == 200


def test_placing_it_anew_changes_the_address(placed: Any) -> None:
    before = address(placed)
    tag = placed.who("Vera").get(before).headers["etag"]
    shifted = np.column_stack([PICKED, TRUTH.to_map_m(PICKED) + np.array([30.0, 0.0])])
    text = ";".join(",".join(f"{value:.2f}" for value in row) for row in shifted)
    assert place(placed, text).status_code == 303
    assert address(placed) != before
    assert placed.who("Vera").get(address(placed)).headers["etag"] != tag


@pytest.mark.parametrize(
    "path",
    [
        "/ground/images.json",
        "/ground/images/flight/0/0/0",
        "/ground/pictures/flight/0/0/0",
        "/ground/place-image/flight",
    ],
)
def test_strangers_see_no_picture(placed: Any, path: str) -> None:
    answer = placed.stranger().get(path)
    assert answer.status_code == 303
    assert "/login" in answer.headers["location"]


@pytest.mark.parametrize(
    ("path", "status"),
    [
        ("/ground/images/nothing/0/0/0", 404),
        ("/ground/images/flight/99/0/0", 404),
        ("/ground/images/flight/0/7/0", 404),
        ("/ground/images/flight/0/-1/0", 404),
        ("/ground/images/flight/a/0/0", 400),
        ("/ground/pictures/flight/5/0/0", 404),
        ("/ground/place-image/nothing", 404),
        ("/ground/place-image/flight?points=1,2,3", 400),
        ("/ground/place-image/flight?points=1,2,3,nan", 400),
        ("/ground/place-image/flight?points=" + "1,2,3,4;" * 31, 400),
        ("/ground/images/flight/0/99999999999999999999999/0", 404),
    ],
)
def test_what_is_not_there_or_no_point_is_refused(placed: Any, path: str, status: int) -> None:
    assert placed.who("Vera").get(path).status_code == status


def test_the_pictures_own_squares_show_its_pixels(pictured: Any) -> None:
    answer = pictured.who("Vera").get("/ground/pictures/flight/0/1/0")
    shown = np.asarray(Image.open(io.BytesIO(answer.content)).convert("RGB"))
    assert shown.shape == (400, 88, 3)
    assert shown[10, 10].tolist() == pytest.approx([(512 + 10) % 256, 10, (532) % 256], abs=12)


def fragment(served: Any, text: str, who: str = "Tomas") -> str:
    found: str = (
        served.who(who)
        .get(
            f"/ground/place-image/flight?points={quote(text)}",
            headers={"hx-request-type": "partial"},
        )
        .text
    )
    assert "<html" not in found
    return " ".join(re.sub(r"<[^>]+>", " ", found).split())


def test_fewer_than_three_points_ask_for_more(pictured: Any) -> None:
    assert "Pick 3 more points" in fragment(pictured, "")
    assert "Pick one more point" in fragment(pictured, points_text(2))
    assert "disabled>Place it so" in pictured.who("Tomas").get("/ground/place-image/flight").text


def test_residuals_come_after_each_point(pictured: Any) -> None:
    said = fragment(pictured, points_text(5))
    assert "Similarity , agreeing within 0.00 m" in said
    assert said.count(" m Drop") == 5


def test_a_wrong_pair_is_named_on_the_page(pictured: Any) -> None:
    said = fragment(pictured, points_text(6, wrong=2))
    assert "50.00 m – not used, looks wrong" in said
    assert "Control point 3 falls 50.0 m" in said


def test_points_in_one_line_get_their_sentence(pictured: Any) -> None:
    text = "10,10,413000,4339000;20,20,413010,4338990;300,300,413290,4338710"
    assert "in one line in the picture" in fragment(pictured, text)


def test_a_pair_can_be_typed_without_script(pictured: Any) -> None:
    page = pictured.who("Tomas").get(
        f"/ground/place-image/flight?points={points_text(2)}&column=560&row=380&x=413618&y=4339266"
    )
    assert f'name="points" value="{points_text(2)};560.00,380.00,413618.00,4339266.00"' in page.text


def test_a_dropped_point_is_gone_from_the_address(pictured: Any) -> None:
    page = pictured.who("Tomas").get(f"/ground/place-image/flight?points={points_text(2)}").text
    (first, second) = re.findall(r'href="(/ground/place-image/flight\?points=[^"]*)">Drop', page)
    kept = pictured.who("Tomas").get(first.replace("&amp;", "&")).text
    assert f'value="{points_text(2).split(";")[1]}"' in kept
    assert first != second


def test_the_points_that_were_kept_are_shown_again(placed: Any) -> None:
    page = placed.who("Tomas").get("/ground/place-image/flight").text
    assert f'points="{points_text(6)}"' in page
    assert "placed by Tomas" in page


def test_placing_is_a_revision_with_its_author(placed: Any) -> None:
    from nightwater.desk.course import open_course

    with open_course(placed.path) as course:
        last = course.file.revisions().iloc[-1]
    assert (last["who"], last["why"]) == ("Tomas", "placed by points")


def test_crew_and_viewers_may_look_but_not_place(pictured: Any) -> None:
    for name in ("Pilar", "Vera"):
        page = pictured.who(name).get("/ground/place-image/flight").text
        assert "may place a picture; your role is" in page
        assert "Place it so" not in page
        for path in ("/ground/place-image/flight", "/ground/place-image/flight/remove"):
            assert pictured.who(name).post(path, points=points_text(5)).status_code == 403


def test_a_form_without_token_is_refused(pictured: Any) -> None:
    answer = pictured.who("Tomas").post(
        "/ground/place-image/flight", points=points_text(5), token="x"
    )
    assert answer.status_code == 403


def test_points_that_do_not_place_it_change_nothing(pictured: Any) -> None:
    assert place(pictured, points_text(2)).status_code == 400
    assert pictured.who("Vera").get("/ground/images.json").json() == {"images": []}


def test_a_picture_can_be_taken_out(placed: Any) -> None:
    assert placed.who("Ines").post("/ground/place-image/flight/remove").status_code == 303
    assert placed.who("Vera").get("/ground/images.json").json() == {"images": []}
    assert placed.who("Vera").get("/ground/place-image/flight").status_code == 404


def test_the_ground_page_lays_it_beneath_the_areas(placed: Any) -> None:
    page = placed.who("Vera").get("/ground").text
    assert 'images="/ground/images.json"' in page
    assert '<input type="checkbox" name="picture" value="flight" checked> flight' in page
    assert 'name="opacity"' in page
