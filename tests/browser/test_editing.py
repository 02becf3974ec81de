"""Ines edits the record on the map, with a mouse and with a thumb."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import pytest

pytestmark = pytest.mark.browser
WIDE = {"viewport": {"width": 1440, "height": 900}}
TABLET = {"viewport": {"width": 1440, "height": 900}, "has_touch": True, "is_mobile": True}
PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}
SLOW = 20_000  # the server looks at the whole record after each change

# Where the handle of a head's sector stands, in pixels from the middle of the map.
HANDLE = """() => {
  const { heads } = document.querySelector('ground-editor').work.ground;
  const head = heads.find((one) => one.id === 'H0405');
  const scale = document.querySelector('.ol-scale-line-inner');
  const m_per_px = parseFloat(scale.textContent) * 0.3048 / scale.getBoundingClientRect().width;
  const turn = head.bearing_deg * Math.PI / 180;
  const away = head.throw_m / m_per_px;
  return [away * Math.sin(turn), -away * Math.cos(turn)];
}"""
NEW = "document.querySelector('ground-editor').work.rows('areas').filter((r) => r.state === 'new')"


class Editor:
    """The editor in one browser window."""

    def __init__(self, context: Any, address: str, touch: bool) -> None:
        self.touch, self.complaints = touch, []
        context.set_default_timeout(SLOW)
        self.page = page = context.new_page()
        page.on("pageerror", lambda problem: self.complaints.append(str(problem)))
        page.goto(f"{address}/ground/edit")
        page.wait_for_selector("ground-editor[ready]")

    def use(self, tool: str) -> None:
        button = self.page.get_by_role("button", name=tool, exact=True)
        button.tap() if self.touch else button.click()

    def press(self, what: Any) -> None:
        what.tap() if self.touch else what.click()

    def choose(self, text: str) -> None:
        """Choose what a filter finds, and bring it into sight."""
        self.use("Select")
        self.page.get_by_label("Filter rows").fill(text)
        self.use("Choose all found")
        self.use("Show on map")
        self.page.wait_for_timeout(500)  # the map glides there and tells nobody when it has come

    def point(self, dx: float, dy: float) -> tuple[float, float]:
        """A place beside the middle of the map, brought into the window."""
        frame = self.page.locator(".map-frame")
        frame.evaluate("e => e.scrollIntoView({block: 'center'})")
        box = frame.bounding_box()
        return box["x"] + box["width"] / 2 + dx, box["y"] + box["height"] / 2 + dy

    def click(self, dx: float, dy: float) -> None:
        here = self.point(dx, dy)
        self.page.touchscreen.tap(*here) if self.touch else self.page.mouse.click(*here)
        self.page.wait_for_timeout(300)  # or two clicks are a double click

    def shaky_tap(self, dx: float, dy: float, by: float = 4.0) -> None:
        """A tap of a finger that does not hold still."""
        x, y = self.point(dx, dy)
        session = self.page.context.new_cdp_session(self.page)
        for kind, where in (
            ("touchStart", [(x, y)]),
            ("touchMove", [(x + by, y)]),
            ("touchEnd", []),
        ):
            points = [{"x": a, "y": b} for a, b in where]
            session.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})
        self.page.wait_for_timeout(300)  # or two taps are a double tap

    def drag(self, dx: float, dy: float) -> None:
        """Drag what is in the middle of the map."""
        start, end = self.point(0, 0), self.point(dx, dy)
        if self.touch:
            self._finger(start, end)
            return
        mouse = self.page.mouse
        mouse.move(*start)
        mouse.down()
        mouse.move(*end, steps=4)
        mouse.up()

    def _finger(self, start: tuple[float, float], end: tuple[float, float]) -> None:
        session = self.page.context.new_cdp_session(self.page)
        between = [
            (start[0] + (end[0] - start[0]) * i / 4, start[1] + (end[1] - start[1]) * i / 4)
            for i in range(5)
        ]
        for kind, (x, y) in zip(("touchStart", *["touchMove"] * 4), between, strict=True):
            session.send(
                "Input.dispatchTouchEvent", {"type": kind, "touchPoints": [{"x": x, "y": y}]}
            )
        session.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})

    def done(self, count: int) -> list[str]:
        """What is not saved yet, once the server has looked at it."""
        self.page.wait_for_function(
            "count => { const work = document.querySelector('ground-editor').work;"
            " return work.session.done.length === count && !work.asking; }",
            arg=count,
        )
        return list(self.page.locator("edit-state .edit-done li").all_inner_texts())

    def save(self, why: str) -> None:
        self.press(self.page.locator("[data-tool=save]"))
        dialog = self.page.locator("dialog[open]")
        dialog.get_by_label("Why?").fill(why)
        self.press(dialog.get_by_role("button", name="Save", exact=True))

    def said(self, words: str) -> None:
        self.page.locator(".edit-said").filter(has_text=re.compile(words)).wait_for()

    def row(self, name: str) -> dict[str, Any]:
        """A row as the page shows it."""
        found: dict[str, Any] = self.page.evaluate(
            "name => document.querySelector('ground-editor').work.row(name)?.values ?? {}", name
        )
        return found

    def place(self, head: str) -> tuple[float, float]:
        found = self.page.evaluate(
            "id => { const head = document.querySelector('ground-editor').work.ground.heads"
            ".find((one) => one.id === id); return [head.x, head.y]; }",
            head,
        )
        return found[0], found[1]


@pytest.fixture
def editors(chromium: Any, editing_site: Any, editor_signed_in: Any) -> Iterator[Any]:
    """Opens editors with context options."""
    contexts = []

    def opened(**options: Any) -> Editor:
        context = chromium.new_context(storage_state=editor_signed_in, **options)
        contexts.append(context)
        return Editor(context, editing_site.address, bool(options.get("has_touch")))

    yield opened
    for context in contexts:
        context.close()


@pytest.mark.parametrize("look", [WIDE, PHONE], ids=["mouse", "thumb"])
def test_she_moves_a_head_saves_it_with_a_reason_and_takes_it_back(editors: Any, look: Any) -> None:
    editor = editors(**look)
    editor.choose("id=H0379")
    before = editor.place("H0379")
    editor.use("Move")
    editor.drag(60, 30)
    assert re.match(r"Move 1 head by [\d.]+ ft", editor.done(1)[0])
    moved = editor.place("H0379")
    assert moved[0] > before[0]
    assert moved[1] < before[1]
    editor.use("Undo")
    editor.done(0)
    assert editor.place("H0379") == before
    editor.use("Redo")
    editor.done(1)
    assert editor.place("H0379") == moved

    editor.save("Measured again")
    editor.said(r"Saved as revision \d+")
    editor.done(0)
    assert editor.place("H0379") == pytest.approx(moved, abs=0.011)
    editor.page.locator(".past").filter(has_text="Measured again").first.wait_for()
    editor.press(editor.page.get_by_role("button", name=re.compile(r"Undo revision \d+")))
    editor.said(r"Revision \d+ is undone")
    assert editor.place("H0379") == pytest.approx(before, abs=0.011)
    assert editor.complaints == []


@pytest.mark.parametrize("look", [WIDE, PHONE], ids=["mouse", "thumb"])
def test_she_draws_an_area_and_shapes_and_parts_it(editors: Any, look: Any) -> None:
    editor = editors(**look)
    editor.choose("id=H0379")
    editor.use("Draw area")
    editor.page.get_by_label("Kind").select_option("tee")
    for corner in ((-130, -110), (-70, -110), (-70, 90), (-130, 90)):
        editor.click(*corner)
    editor.use("Finish")
    assert editor.done(1) == ["Draw 1 area"]
    [made] = editor.page.evaluate(NEW)
    assert made["values"]["kind"] == "tee"

    editor.use("Select")
    editor.page.evaluate(
        "id => document.querySelector('ground-editor').work.select(['areas:' + id])", made["id"]
    )
    editor.use("Split")
    editor.click(-150, 0)
    editor.click(-50, 0)
    editor.use("Finish")
    assert editor.done(2)[1].startswith("Split ")
    assert editor.page.evaluate(f"{NEW}.length") == 2
    editor.page.evaluate(
        f"document.querySelector('ground-editor').work.select({NEW}.map((r) => 'areas:' + r.id))"
    )
    editor.use("Merge")
    assert editor.done(3)[2] == "Merge 2 areas"
    assert editor.page.evaluate(f"{NEW}.length") == 1
    editor.use("Discard")
    editor.page.locator("dialog[open]").get_by_role("button", name="Discard").click()
    editor.done(0)
    assert editor.complaints == []


# Width and height between the outermost corners, and how many corners there are.
DRAWN = f"""(() => {{
  const [made] = {NEW};
  const {{ areas }} = document.querySelector('ground-editor').work.ground;
  const area = areas.find((one) => one.id === made.id);
  const ring = area.polygons[0][0].slice(1), scale = document.querySelector('.ol-scale-line-inner');
  const m_per_px = parseFloat(scale.textContent) * 0.3048 / scale.getBoundingClientRect().width;
  const over = (at) => Math.max(...ring.map((c) => c[at])) - Math.min(...ring.map((c) => c[at]));
  return [ring.length, over(0) / m_per_px, over(1) / m_per_px];
}})()"""


@pytest.mark.parametrize("tap", ["click", "shaky_tap"])
@pytest.mark.parametrize("look", [PHONE, TABLET], ids=["390 touch", "1440 touch"])
def test_every_corner_that_a_finger_gives_is_kept(editors: Any, look: Any, tap: str) -> None:
    """The first corner lies beside the zoom buttons on a phone; fingers shake."""
    editor = editors(**look)
    editor.choose("id=H0379")
    editor.use("Draw area")
    for corner in ((-130, -110), (-70, -110), (-70, 90), (-130, 90)):
        getattr(editor, tap)(*corner)
    editor.use("Finish")
    assert editor.done(1) == ["Draw 1 area"]
    corners, wide_px, high_px = editor.page.evaluate(DRAWN)
    assert corners == 4
    assert wide_px == pytest.approx(60, abs=26)  # each corner may snap by 12 px
    assert high_px == pytest.approx(200, abs=26)
    editor.use("Undo")
    editor.done(0)


def test_rows_and_map_choose_the_same_and_a_bulk_change_is_tried_first(editors: Any) -> None:
    editor = editors(**WIDE)
    page = editor.page
    editor.choose("kind=green hole=7 arc<360")
    count = int(re.findall(r"\d+", page.locator(".found").first.inner_text())[0])
    assert f"Chosen: {count} heads." in page.locator(".edit-chosen").inner_text()
    assert page.locator(".row-scroll tr[data-chosen]").count() == count
    page.get_by_label("Column").select_option("arc_deg")
    page.get_by_label("Value").fill("200")
    editor.use("Preview")
    page.get_by_text(f"{count} of {count} would change.").wait_for()
    assert "180 → 200" in page.locator(".bulk-answer").inner_text()
    assert editor.done(0) == []
    editor.use(f"Change {count}")
    assert editor.done(1) == [f"Set arc_deg of {count} heads"]
    page.get_by_label("Value").fill("999")
    editor.use("Preview")
    page.locator(".bulk-answer .why-not").wait_for()
    assert "arc" in page.locator(".bulk-answer").inner_text()


def test_heads_turn_copy_arcs_and_join_stations_by_pointing(editors: Any) -> None:
    editor = editors(**WIDE)
    editor.choose("id=H0405")
    bearing = editor.row("heads:H0405")["bearing_deg"]
    editor.page.keyboard.press("t")
    handle = editor.page.evaluate(HANDLE)
    start, end = editor.point(*handle), editor.point(-handle[0], -handle[1])
    editor.page.mouse.move(*start)
    editor.page.mouse.down()
    editor.page.mouse.move(*end, steps=4)
    editor.page.mouse.up()
    assert editor.done(1)[0].startswith("Turn 1 head to ")
    turned = editor.row("heads:H0405")["bearing_deg"]
    assert abs((turned - bearing) % 360 - 180) < 10

    station = editor.row("heads:H0405")["station"]
    other = "document.querySelector('ground-editor').work.select(['heads:H0379'])"
    editor.page.evaluate(other)
    editor.use("Assign to station")
    editor.click(0, 0)
    if (
        editor.page.evaluate("document.querySelector('ground-editor').work.session.done.length")
        == 1
    ):
        editor.click(0, -34)  # heads stand at this place; they have fanned out
    editor.done(2)
    assert editor.row("heads:H0379")["station"] in (station, editor.row("heads:H0398")["station"])
    assert editor.complaints == []


def test_a_place_tells_what_wets_it(editors: Any) -> None:
    editor = editors(**WIDE)
    editor.choose("id=H0379")
    editor.use("What wets this spot?")
    editor.click(10, 10)
    answer = editor.page.locator("spot-answer")
    answer.get_by_text("All together").wait_for()
    assert "07-F-01" in answer.inner_text()
    shares = [int(s) for s in re.findall(r"(\d+) %", answer.inner_text())]
    assert abs(sum(shares) - 100) <= len(shares)


def test_a_tool_that_cannot_be_used_says_why_and_keys_choose_tools(editors: Any) -> None:
    editor = editors(**WIDE)
    turn = editor.page.get_by_role("button", name="Turn", exact=True)
    turn.click(force=True)  # it is told to be disabled, and answers all the same
    editor.said("Choose one head first.")
    assert editor.page.locator("[data-tool=turn]").get_attribute("aria-pressed") == "false"
    editor.page.keyboard.press("b")
    assert editor.page.locator("[data-tool=box]").get_attribute("aria-pressed") == "true"
    editor.choose("id=H0379")
    editor.use("Move")
    editor.page.locator(".map-frame").focus()
    editor.page.keyboard.press("ArrowRight")
    editor.done(1)
    editor.page.keyboard.press("Control+z")
    assert editor.done(0) == []


@pytest.mark.parametrize(
    ("look", "arcs"), [(WIDE, (150, 120)), (PHONE, (160, 130))], ids=["1440", "390 touch"]
)
def test_two_people_change_the_same_row_and_nothing_is_lost(
    editors: Any, look: Any, arcs: tuple[int, int]
) -> None:
    first, second = editors(**look), editors(**look)
    for editor, arc in ((first, str(arcs[0])), (second, str(arcs[1]))):
        editor.choose("id=H0406,H0407")
        editor.page.get_by_label("Column").select_option("arc_deg")
        editor.page.get_by_label("Value").fill(arc)
        editor.use("Preview")
        editor.use("Change 2")
        editor.done(1)
    first.save("First")
    first.said("Saved as revision")
    second.save("Second")
    conflict = second.page.locator("conflict-rows")
    conflict.get_by_role("heading", name="Somebody was first").wait_for()
    assert second.done(1)
    assert conflict.locator("fieldset").count() == 2
    line = conflict.locator("fieldset").first.locator("tr.differs").filter(has_text="arc deg")
    assert line.locator("td").all_inner_texts() == [str(arcs[1]), str(arcs[0])]
    assert "Ines Calloran, revision" in conflict.inner_text()
    second.use("Save again")
    second.said("Choose yours or theirs for every row")
    second.press(conflict.locator("fieldset").filter(has_text="H0406").get_by_label("Keep mine"))
    second.press(conflict.locator("fieldset").filter(has_text="H0407").get_by_label("Take theirs"))
    second.use("Save again")
    second.said("Saved as revision")
    assert second.row("heads:H0406")["arc_deg"] == arcs[1]
    assert second.row("heads:H0407")["arc_deg"] == arcs[0]
    wide = second.page.evaluate("document.documentElement.scrollWidth")
    assert wide <= look["viewport"]["width"]


@pytest.mark.parametrize("look", [WIDE, PHONE], ids=["1440", "390"])
def test_the_editor_does_not_overflow(editors: Any, look: Any) -> None:
    editor = editors(**look)
    wide = editor.page.evaluate("document.documentElement.scrollWidth")
    assert wide <= look["viewport"]["width"]
    if look is PHONE:
        small = editor.page.evaluate(
            "[...document.querySelectorAll('edit-tools button, edit-bar button')]"
            ".filter((e) => e.offsetParent).filter((e) => e.getBoundingClientRect().height < 44)"
            ".map((e) => e.textContent)"
        )
        assert small == []


def chosen(editor: Editor) -> list[str]:
    found: list[str] = editor.page.evaluate(
        "[...document.querySelector('ground-editor').work.selection]"
    )
    return found


def test_box_and_lasso_choose_the_heads_inside(editors: Any) -> None:
    editor = editors(**WIDE)
    editor.choose("id=H0379")
    mouse = editor.page.mouse
    corners = [editor.point(*at) for at in ((-90, -90), (90, -90), (90, 90), (-90, 90))]
    editor.use("Box")
    mouse.move(*corners[0])
    mouse.down()
    mouse.move(*corners[2], steps=5)
    mouse.up()
    boxed = chosen(editor)
    assert "heads:H0379" in boxed
    assert len(boxed) > 1
    assert {name.partition(":")[0] for name in boxed} == {"heads"}
    editor.use("Select")
    editor.use("Choose nothing")
    editor.use("Lasso")
    mouse.move(*corners[0])
    mouse.down()
    for corner in corners[1:]:
        mouse.move(*corner, steps=5)
    mouse.up()
    assert sorted(chosen(editor)) == sorted(boxed)


def test_heads_that_cover_each_other_fan_out(editors: Any) -> None:
    editor = editors(**WIDE)
    editor.choose("id=H0405")  # a green head beside the approach head 07-A-01
    editor.use("Choose nothing")
    editor.click(0, 0)
    assert chosen(editor) == []
    editor.click(0, -34)
    [first] = chosen(editor)
    editor.click(0, 0)
    editor.click(0, 34)
    [second] = chosen(editor)
    assert first != second
    assert "heads:H0405" in (first, second)


def test_new_heads_are_like_the_chosen_one_and_can_be_taken_out(editors: Any) -> None:
    editor = editors(**WIDE)
    editor.choose("id=H0379")
    like = editor.row("heads:H0379")
    new = NEW.replace("areas", "heads")
    editor.use("Draw head")
    editor.click(45, 25)
    assert editor.done(1) == ["Draw 1 head"]
    [made] = editor.page.evaluate(new)
    for column in ("nozzle", "arc_deg", "spacing_m", "station"):
        assert made["values"][column] == like[column]
    assert made["values"]["label"] is None
    editor.use("Place along a line")
    editor.page.get_by_label("Spacing").fill("65")
    editor.click(-150, -80)
    editor.click(-150, 120)
    editor.use("Finish")
    assert editor.done(2)[1] == "Place heads every 65.0 ft"
    placed = editor.page.evaluate(new)
    assert len(placed) > 2
    editor.page.evaluate(
        f"document.querySelector('ground-editor').work.select({new}.map((r) => 'heads:' + r.id))"
    )
    editor.page.keyboard.press("Delete")
    assert editor.done(3)[2] == f"Delete {len(placed)} heads"
    assert editor.page.evaluate(new) == []
    assert chosen(editor) == []


def test_an_arc_is_copied_and_a_corner_is_moved(editors: Any) -> None:
    editor = editors(**WIDE)
    editor.choose("id=H0379")
    mark = editor.page.evaluate(
        "id => document.querySelector('ground-editor').work.select([id])", "heads:H0405"
    )
    assert mark is None
    arc = editor.row("heads:H0379")["arc_deg"]
    editor.use("Copy arc")
    editor.click(0, 0)
    assert editor.done(1) == ["Copy the arc of H0379 to 1 head"]
    assert editor.row("heads:H0405")["arc_deg"] == arc

    editor.use("Draw area")
    for corner in ((-130, -110), (-70, -110), (-70, 90), (-130, 90)):
        editor.click(*corner)
    editor.use("Finish")
    editor.done(2)
    [made] = editor.page.evaluate(NEW)
    editor.page.evaluate(
        "id => document.querySelector('ground-editor').work.select(['areas:' + id])", made["id"]
    )
    shape = (
        "id => JSON.stringify(document.querySelector('ground-editor').work.ground.areas"
        ".find((area) => area.id === id).polygons)"
    )
    before = editor.page.evaluate(shape, made["id"])
    editor.use("Reshape")
    start, end = editor.point(-130, -110), editor.point(-160, -130)
    editor.page.mouse.move(*start)
    editor.page.mouse.down()
    editor.page.mouse.move(*end, steps=4)
    editor.page.mouse.up()
    assert editor.done(3)[2] == f"Reshape {made['id']}"
    assert editor.page.evaluate(shape, made["id"]) != before
    assert editor.complaints == []


LABEL = (
    "id => document.querySelector('ground-editor').work.ground.heads"
    ".find((one) => one.id === id).label"
)
LOOKS = pytest.mark.parametrize("look", [WIDE, PHONE], ids=["1440", "390 touch"])


def mislabelled(editor: Editor, label: str, *heads: str) -> None:
    """Save a wrong label, the same for all."""
    editor.choose(f"id={','.join(heads)}")
    editor.page.get_by_label("Column").select_option("label")
    editor.page.get_by_label("Value").fill(label)
    editor.use("Preview")
    editor.use(f"Change {len(heads)}")
    editor.done(1)
    editor.save("A wrong label")
    editor.said(r"Saved as revision \d+")


@LOOKS
def test_a_hole_is_renumbered_on_the_map_and_the_revision_taken_back(
    editors: Any, look: Any
) -> None:
    editor = editors(**look)
    editor.choose("id=H0379")
    right = editor.row("heads:H0379")["label"]
    mislabelled(editor, "wrong", "H0379")
    editor.use("Renumber hole")
    assert editor.done(1) == ["Renumber hole 7: 1 head"]
    shown = editor.page.evaluate(LABEL, "H0379")
    assert re.fullmatch(r"07-F-\d+", shown)  # what the map writes beside it, before any save
    editor.save("By the club's order")
    editor.said(r"Saved as revision \d+")
    editor.press(editor.page.locator("summary", has_text="Revisions"))
    newest = editor.page.locator(".revisions li").first
    newest.get_by_text("By the club's order").wait_for()
    editor.press(newest.get_by_role("button", name=re.compile(r"Take revision \d+ back")))
    editor.said(r"Revision \d+ is undone")
    editor.page.locator(".revisions").get_by_text(re.compile("taken back by")).first.wait_for()
    assert editor.page.evaluate(LABEL, "H0379") == "wrong"
    assert shown == right
    editor.use("Renumber hole")
    editor.done(1)
    editor.save("Right after all")
    editor.said(r"Saved as revision \d+")
    wide = editor.page.evaluate("document.documentElement.scrollWidth")
    assert wide <= look["viewport"]["width"]
    assert editor.complaints == []


@LOOKS
def test_of_two_wrong_labels_only_the_chosen_one_is_put_right(editors: Any, look: Any) -> None:
    editor = editors(**look)
    mislabelled(editor, "wrong", "H0383", "H0384")
    editor.choose("id=H0384")
    editor.use("Renumber chosen")
    assert editor.done(1) == ["Renumber hole 7: 1 head"]
    assert editor.page.evaluate(LABEL, "H0383") == "wrong"
    assert re.fullmatch(r"07-F-\d+", editor.page.evaluate(LABEL, "H0384"))
    editor.use("Undo")
    editor.done(0)
    editor.use("Renumber hole")
    assert editor.done(1) == ["Renumber hole 7: 2 heads"]
    editor.save("Both right again")
    editor.said(r"Saved as revision \d+")
    editor.use("Renumber hole")
    editor.said("Every label is there already")
    assert editor.complaints == []


def test_a_renumbered_head_that_somebody_changed_meanwhile_is_told(editors: Any) -> None:
    mine, other = editors(**WIDE), editors(**PHONE)
    mislabelled(mine, "wrong", "H0379", "H0383")
    other.page.reload()
    other.page.wait_for_selector("ground-editor[ready]")
    mine.use("Renumber hole")
    assert mine.done(1) == ["Renumber hole 7: 2 heads"]
    mislabelled(other, "theirs", "H0383")
    mine.save("By the club's order")
    told = mine.page.locator("conflict-rows")
    told.get_by_text("Somebody was first").wait_for()
    assert told.locator("legend").all_inner_texts() == ["heads:H0383"]
    told.get_by_label("Take theirs").check()
    told.get_by_role("button", name="Save again").click()
    mine.said(r"Saved as revision \d+")
    assert mine.page.evaluate(LABEL, "H0383") == "theirs"
    assert re.fullmatch(r"07-F-\d+", mine.page.evaluate(LABEL, "H0379"))
    mine.use("Renumber hole")
    mine.done(1)
    mine.save("Theirs was wrong, too")
    mine.said(r"Saved as revision \d+")
