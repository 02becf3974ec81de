"""Pilar photographs a head in the rain; everybody sees it on its sheet."""

from __future__ import annotations

import io
import re
from typing import Any

import pytest
from PIL import Image

HEAD = "heads:H-F004"
SHEET = f"/ground/subject?subject={HEAD}"


def jpeg(colour: str = "green", size: tuple[int, int] = (900, 600), **more: Any) -> bytes:
    target = io.BytesIO()
    Image.new("RGB", size, colour).save(target, "JPEG", **more)
    return target.getvalue()


def send(visitor: Any, *, subject: str = HEAD, text: str = "Nozzle worn", **files: Any) -> Any:
    sent = files or {"file": ("head.jpg", jpeg())}
    return visitor.client.post(
        "/ground/photos/add",
        data={"token": visitor.token(), "subject": subject, "text": text},
        files=sent,
        headers={"sec-fetch-site": "same-origin"},
    )


def ids(page: str) -> list[str]:
    return re.findall(r'<img src="/ground/photos/(\w+)/small"', page)


@pytest.fixture
def photographed(served: Any) -> Any:
    """The served course with one photo of a head by Pilar."""
    answer = send(served.who("Pilar"))
    assert answer.status_code == 303, answer.text
    assert answer.headers["location"] == "/ground/subject?subject=heads%3AH-F004#photos"
    return served


def test_a_photo_stands_on_the_sheet_with_words_author_and_time(photographed: Any) -> None:
    page = photographed.who("Vera").get(SHEET).text
    (identity,) = ids(page)
    assert f'<a href="/ground/photos/{identity}/whole">' in page
    assert 'alt="Nozzle worn"' in page
    assert "<b>Nozzle worn</b>" in page
    assert re.search(r"15:00[^<]*, Pilar", page)
    assert identity in photographed.who("Vera").get(f"/ground?subject={HEAD}").text
    assert ids(photographed.who("Vera").get("/ground/subject?subject=heads:H-F005").text) == []


def test_its_files_are_smaller_jpegs(photographed: Any) -> None:
    vera = photographed.who("Vera")
    (identity,) = ids(vera.get(SHEET).text)
    small = vera.get(f"/ground/photos/{identity}/small")
    whole = vera.get(f"/ground/photos/{identity}/whole")
    assert small.headers["content-type"] == whole.headers["content-type"] == "image/jpeg"
    assert Image.open(io.BytesIO(whole.content)).size == (900, 600)
    assert max(Image.open(io.BytesIO(small.content)).size) == 320
    assert vera.get(f"/ground/photos/{identity}/huge").status_code == 400
    again = vera.get(
        f"/ground/photos/{identity}/small", headers={"if-none-match": small.headers["etag"]}
    )
    assert (again.status_code, again.content) == (304, b"")


def test_the_newest_comes_first(photographed: Any) -> None:
    photographed.clock.go_on(minutes=5)
    assert send(
        photographed.who("Tomas"), text="New nozzle", file=("b.jpg", jpeg("red"))
    ).is_redirect
    page = photographed.who("Vera").get(SHEET).text
    assert page.index("New nozzle") < page.index("Nozzle worn")


def test_a_form_of_a_phone_sends_two_fields_and_one_file(served: Any) -> None:
    """Without script, a browser sends the field that was left empty as an empty file."""
    taken = {"taken": ("now.jpg", jpeg()), "file": ("", b"")}
    assert send(served.who("Pilar"), **taken).status_code == 303
    chosen = {"taken": ("", b""), "file": ("old.jpg", jpeg("red"))}
    assert send(served.who("Pilar"), **chosen).status_code == 303
    assert len(ids(served.who("Pilar").get(SHEET).text)) == 2
    page = served.who("Pilar").get(SHEET).text
    assert re.search(r'<input type="file" name="taken" accept="image/\*" capture', page)


def test_any_row_of_the_record_has_photos(served: Any) -> None:
    for subject in ("areas:A-F", "holes:H1", "nozzles:N-big"):
        assert send(served.who("Tomas"), subject=subject).status_code == 303
        assert len(ids(served.who("Vera").get(f"/ground/subject?subject={subject}").text)) == 1


@pytest.mark.parametrize(
    ("change", "status", "sentence"),
    [
        ({"file": ("a.jpg", b"no photo")}, 400, "neither a JPEG nor a PNG inside"),
        ({"file": ("", b"")}, 400, "No photo was chosen"),
        ({"text": "  "}, 400, "Say what is to be seen"),
        ({"text": "x" * 201}, 400, "1 to 200 characters"),
        ({"subject": "heads:none"}, 404, "The record has no"),
        ({"subject": "nights:x"}, 400, "no row of the record"),
    ],
)
def test_what_is_no_photo_is_refused_with_a_sentence(
    served: Any, change: dict[str, Any], status: int, sentence: str
) -> None:
    answer = send(served.who("Pilar"), **change)
    assert (answer.status_code, sentence in answer.text) == (status, True), answer.text
    assert ids(served.who("Vera").get(SHEET).text) == []


def test_the_same_photo_sent_twice_is_told(photographed: Any) -> None:
    answer = send(photographed.who("Pilar"))
    assert answer.status_code == 409
    assert "already, added by Pilar" in answer.text
    assert len(ids(photographed.who("Vera").get(SHEET).text)) == 1


def test_a_body_is_counted_while_it_is_read(served: Any) -> None:
    answer = send(served.who("Pilar"), file=("big.jpg", b"\xff\xd8\xff" + bytes(22 * 1024 * 1024)))
    assert answer.status_code == 413
    assert answer.text == "At most 21 MB can be sent."
    answer = send(served.who("Pilar"), file=("big.jpg", b"\xff\xd8\xff" + bytes(20 * 1024 * 1024)))
    assert answer.status_code == 400
    assert "photos of up to 20 MB are taken" in answer.text


def test_viewers_learn_why_they_may_not(served: Any) -> None:
    page = served.who("Vera").get(SHEET).text
    assert "may add a photo; your role is viewer" in page
    assert "/ground/photos/add" not in page
    assert send(served.who("Vera")).status_code == 403


def test_a_form_without_token_is_refused(served: Any) -> None:
    visitor = served.who("Pilar")
    answer = visitor.client.post(
        "/ground/photos/add",
        data={"token": "x", "subject": HEAD, "text": "y"},
        files={"file": ("a.jpg", jpeg())},
        headers={"sec-fetch-site": "same-origin"},
    )
    assert answer.status_code == 403


def test_strangers_see_no_photo(photographed: Any) -> None:
    (identity,) = ids(photographed.who("Vera").get(SHEET).text)
    answer = photographed.stranger().get(f"/ground/photos/{identity}/whole")
    assert answer.status_code == 303
    assert "/login" in answer.headers["location"]
    assert photographed.who("Vera").get("/ground/photos/none/whole").status_code == 404


def withdraw(served: Any, who: str, why: str = "shows a person") -> Any:
    (identity,) = ids(served.who("Vera").get(SHEET).text)
    return served.who(who).post(f"/ground/photos/{identity}/withdraw", why=why)


@pytest.mark.parametrize("who", ["Tomas", "Ines", "Pilar"])
def test_planners_and_its_author_withdraw_a_photo(photographed: Any, who: str) -> None:
    vera = photographed.who("Vera")
    (identity,) = ids(vera.get(SHEET).text)
    assert withdraw(photographed, who).status_code == 303
    page = vera.get(SHEET).text
    assert ids(page) == []
    assert "1 withdrawn photo" in page
    assert f"Withdrawn by {who} on" in page
    assert "shows a person" in page
    # It is kept, for those who answer for it; others see that it was there.
    assert vera.get(f"/ground/photos/{identity}/whole").status_code == 403
    assert photographed.who("Tomas").get(f"/ground/photos/{identity}/whole").status_code == 200
    assert photographed.who(who).post(
        f"/ground/photos/{identity}/withdraw", why="again"
    ).status_code == 409  # fmt: skip


def test_crew_withdraws_nobody_elses_photo_and_viewers_none(served: Any) -> None:
    assert send(served.who("Tomas")).status_code == 303
    for name in ("Pilar", "Vera"):
        assert "/withdraw" not in served.who(name).get(SHEET).text
        answer = withdraw(served, name)
        assert answer.status_code == 403
        assert "somebody else" in answer.text


def test_withdrawing_wants_a_reason(photographed: Any) -> None:
    answer = withdraw(photographed, "Tomas", "  ")
    assert answer.status_code == 400
    assert "Say why the photo is withdrawn" in answer.text
    assert len(ids(photographed.who("Vera").get(SHEET).text)) == 1
