"""Tomas sends a file, looks at what it would change, and accepts it in part."""

from __future__ import annotations

import re
from typing import Any

import pytest

CSV = "id,label,nozzle\nH-F004,seven,N-large\nH-F005,,\nH-NEW,new,\n"
FEET = "Head,Spacing\nH-F004,61\n"


def sent(visitor: Any, content: str | bytes, name: str = "heads.csv", table: str = "heads") -> Any:
    data = content.encode() if isinstance(content, str) else content
    return visitor.client.post(
        "/survey/read",
        data={"token": visitor.token(), "table": table},
        files={"file": (name, data)},
        headers={"sec-fetch-site": "same-origin"},
    )


def place(answer: Any) -> str:
    assert answer.status_code == 303, answer.text
    return str(answer.headers["location"])


def label(served: Any, head: str) -> Any:
    from nightwater.desk.course import open_course

    with open_course(served.path) as course:
        return course.ground.heads["label"].get(head)


@pytest.fixture
def looked(served: Any) -> tuple[Any, str]:
    """Tomas, and the address of the file he looks at."""
    tomas = served.who("Tomas")
    return tomas, place(sent(tomas, "id,label\nH-F004,seven\nH-F005,eight\n"))


def test_a_file_is_looked_at_before_anything_changes(served: Any, looked: Any) -> None:
    tomas, address = looked
    before = label(served, "H-F004")
    page = tomas.get(address).text
    assert "heads.csv" in page
    assert re.search(r"<b>changed</b>: all 2 rows", page)
    assert f"label {before} → seven" in page
    assert label(served, "H-F004") == before


def test_the_whole_is_accepted_as_one_revision(served: Any, looked: Any) -> None:
    tomas, address = looked
    answer = tomas.post(address.replace("?", "/accept?"), part="changed", why="new tags")
    assert (answer.status_code, answer.headers["location"]) == (303, "/ground")
    assert (label(served, "H-F004"), label(served, "H-F005")) == ("seven", "eight")
    from nightwater.store.course_file import CourseFile

    with CourseFile.open(served.path) as file:
        last = file.revisions().iloc[-1]
    assert (last["who"], last["why"]) == ("Tomas", "new tags")
    assert tomas.get(address).status_code == 404  # the file is gone once it is accepted


def test_single_rows_are_accepted_and_the_others_stay(served: Any, looked: Any) -> None:
    tomas, address = looked
    before = label(served, "H-F005")
    assert tomas.post(address.replace("?", "/accept?"), row="H-F004").status_code == 303
    assert (label(served, "H-F004"), label(served, "H-F005")) == ("seven", before)


def test_nothing_ticked_changes_nothing(served: Any, looked: Any) -> None:
    tomas, address = looked
    answer = tomas.post(address.replace("?", "/accept?"))
    assert answer.status_code == 400
    assert "Nothing was chosen" in answer.text


def test_columns_are_matched_and_units_said_on_the_page(served: Any) -> None:
    tomas = served.who("Tomas")
    address = place(sent(tomas, FEET))
    page = tomas.get(address).text
    assert 'value="Head"' in page
    assert re.search(r'<option value="ft"', page)
    told = "&theirs=Head&theirs=Spacing&ours=id&ours=spacing_m&unit=&unit=ft"
    page = tomas.get(address + told).text
    assert re.search(r"spacing_m [\d.]+ → 18\.5928", page)
    answer = tomas.post(address.replace("?", "/accept?") + told, part="changed")
    assert answer.status_code == 303
    from nightwater.desk.course import open_course

    with open_course(served.path) as course:
        assert course.ground.heads["spacing_m"]["H-F004"] == pytest.approx(61 * 0.3048)


@pytest.mark.parametrize(
    ("content", "name", "sentence"),
    [
        (b"\x00\x01", "heads.csv", "zero bytes"),
        ("x,y\n1,2\n", "heads.csv", "coordinate system"),
        ("{", "heads.geojson", "cannot be read"),
    ],
)
def test_what_cannot_be_read_is_told_and_can_be_put_right(
    served: Any, content: str | bytes, name: str, sentence: str
) -> None:
    tomas = served.who("Tomas")
    page = tomas.get(place(sent(tomas, content, name))).text
    assert 'role="alert"' in page
    assert sentence in page
    assert "Look again" in page


@pytest.mark.parametrize(("name", "content"), [("heads.exe", "x"), ("", "x"), ("heads.csv", "")])
def test_what_is_no_file_of_ours_is_refused_at_once(served: Any, name: str, content: str) -> None:
    answer = sent(served.who("Tomas"), content, name)
    assert answer.status_code in (400, 422)


def test_a_name_never_leads_out_of_the_folder(served: Any) -> None:
    tomas = served.who("Tomas")
    page = tomas.get(place(sent(tomas, "id,label\nH-F004,x\n", "../../../etc/heads.csv"))).text
    assert "heads.csv" in page
    assert "etc" not in re.findall(r"<h1>(.*?)</h1>", page, re.S)[0]


def test_another_persons_file_is_not_found(served: Any, looked: Any) -> None:
    _, address = looked
    assert served.who("Ines").get(address).status_code == 404
    assert served.who("Tomas").get("/survey/" + "0" * 32 + "?table=heads").status_code == 404
    assert served.who("Tomas").get("/survey/..%2F..?table=heads").status_code == 404


@pytest.mark.parametrize("name", ["Pilar", "Vera"])
def test_others_learn_why_they_may_not(served: Any, name: str) -> None:
    assert "may change the record; your role is" in served.who(name).get("/survey").text
    assert sent(served.who(name), "id\nH-F004\n").status_code == 403


def test_a_large_file_goes_through_and_a_large_form_elsewhere_does_not(served: Any) -> None:
    tomas = served.who("Tomas")
    many = "id,label\n" + "".join(f"H-F004,{n}\n" for n in range(20_000))
    assert len(many) > 65_536
    assert sent(tomas, many).status_code == 303
    assert tomas.post("/numbers/preview", rules="x" * 70_000).status_code == 413
