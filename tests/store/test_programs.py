"""Several programs at one file, and programs that die."""

from __future__ import annotations

import random
import signal
import sqlite3
import subprocess
import sys
import threading
from collections.abc import Callable
from contextlib import closing
from datetime import datetime
from pathlib import Path

import pytest

from nightwater.findings import ConflictError
from nightwater.ground.changes import Changes
from nightwater.store.course_file import CourseFile

ROWS = 4000
SURVEYOR = """
import sys
from datetime import UTC, datetime
from pathlib import Path
from shapely.geometry import Point
from nightwater.ground.changes import Changes, RowChange
from nightwater.store.course_file import CourseFile

path, prefix, count, rounds = Path(sys.argv[1]), sys.argv[2], int(sys.argv[3]), int(sys.argv[4])
now = datetime(2026, 7, 14, tzinfo=UTC)
with CourseFile.open(path) as file:
    for turn in range(rounds):
        changes = Changes(tuple(
            RowChange("heads", f"{prefix}{turn}-{n}", None,
                      {"arc_deg": 90.0, "geometry": Point(413000 + n, 4340000)})
            for n in range(count)
        ))
        print("ready", flush=True)
        sys.stdin.readline()
        file.accept(changes, prefix, "survey", now)
        print("done", flush=True)
"""


def surveyor(path: Path, prefix: str, count: int, rounds: int = 1) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-c", SURVEYOR, str(path), prefix, str(count), str(rounds)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )


def told(child: subprocess.Popen[str]) -> str:
    assert child.stdout is not None
    return child.stdout.readline().strip()


def say_go(child: subprocess.Popen[str]) -> None:
    assert child.stdin is not None
    child.stdin.write("go\n")
    child.stdin.flush()


def accept_seconds(path: Path) -> float:
    """How long the child's accept takes on this machine, so that kills fall inside it."""
    from time import perf_counter

    child = surveyor(path, "probe", ROWS)
    assert told(child) == "ready"
    began = perf_counter()
    say_go(child)
    assert told(child) == "done"
    child.wait()
    return perf_counter() - began


def test_kill_minus_nine_during_accept_leaves_all_or_none(
    tmp_path: Path, course_path: Path
) -> None:
    whole_s = accept_seconds(course_path)
    chance = random.Random(4)
    outcomes = []
    for turn, share in enumerate([0.02, 0.3, 0.6, 0.8, 0.92, 1.0]):
        prefix = f"kill{turn}"
        child = surveyor(course_path, prefix, ROWS)
        assert told(child) == "ready"
        say_go(child)
        moment = threading.Event()
        moment.wait(whole_s * share * chance.uniform(0.95, 1.05))
        child.send_signal(signal.SIGKILL)
        child.wait()
        with CourseFile.open(course_path) as file:
            heads = file.ground().heads
            count = int(heads.index.str.startswith(f"{prefix}0-").sum())
            revisions = int((file.revisions()["who"] == prefix).sum())
        assert (count, revisions) in ((0, 0), (ROWS, 1)), f"killed at {share:.2f}"
        outcomes.append(revisions)
        with closing(sqlite3.connect(course_path)) as connection:
            assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
            extent = "SELECT max_x FROM gpkg_contents WHERE table_name = 'heads'"
            assert connection.execute(extent).fetchall() == [(413000.0 + ROWS - 1,)]
    assert outcomes[0] == 0


DYING = """
import os, sys
from datetime import UTC, datetime
from pathlib import Path
from shapely.geometry import Point
from nightwater.ground.changes import Changes, RowChange
from nightwater.store import revisions
from nightwater.store.course_file import CourseFile

path, place = Path(sys.argv[1]), sys.argv[2]
changes = Changes(tuple(
    RowChange(table, f"K{n}", None, {"kind": "green"} if table == "areas" else {})
    for table in ("areas", "heads") for n in range(200)
))
def dying(*_arguments, **_names):
    os.kill(os.getpid(), 9)
setattr(revisions, place, dying)
with CourseFile.open(path) as file:
    file.accept(changes, "Pilar", "survey", datetime(2026, 7, 14, tzinfo=UTC))
"""


@pytest.mark.parametrize("place", ["put", "extent", "note_change", "change_set_text"])
def test_dying_between_two_steps_leaves_none(course_path: Path, place: str) -> None:
    ended = subprocess.run([sys.executable, "-c", DYING, str(course_path), place], check=False)
    assert ended.returncode == -signal.SIGKILL
    with CourseFile.open(course_path) as file:
        assert file.ground().heads.empty
        assert file.ground().areas.empty
        assert file.revisions().empty


def test_a_failure_between_two_tables_leaves_none(
    course: CourseFile,
    new_heads: Callable[..., Changes],
    one_area: Changes,
    now: datetime,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    from nightwater.store import revisions

    real, calls = revisions.put, []

    def failing(*arguments: object) -> None:
        calls.append(1)
        if len(calls) == 2:
            raise RuntimeError("a bug")
        real(*arguments)  # type: ignore[arg-type]

    monkeypatch.setattr(revisions, "put", failing)
    both = Changes((*new_heads(3).rows, *one_area.rows))
    with pytest.raises(RuntimeError):
        course.accept(both, "Pilar", "survey", now)
    assert course.ground().heads.empty
    monkeypatch.undo()
    course.accept(both, "Pilar", "survey", now)
    assert len(course.ground().heads) == 3


def test_two_programs_accept_in_turn_and_lose_nothing(course_path: Path) -> None:
    children = [surveyor(course_path, name, 50, rounds=6) for name in ("one", "two")]
    for _round in range(6):
        for child in children:
            assert told(child) == "ready"
        for child in children:
            say_go(child)
        for child in children:
            assert told(child) == "done"
    assert [child.wait() for child in children] == [0, 0]
    with CourseFile.open(course_path) as file:
        assert len(file.ground().heads) == 2 * 6 * 50
        assert file.revisions()["who"].value_counts().to_dict() == {"one": 6, "two": 6}


def test_a_file_that_is_being_written_says_so_and_saves_nothing(
    course_path: Path, new_heads: Callable[..., Changes], now: datetime
) -> None:
    with (
        CourseFile.open(course_path, wait_s=0.05) as file,
        closing(sqlite3.connect(course_path, isolation_level=None)) as other,
    ):
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(ConflictError, match=r"Another program is writing.*nothing was saved"):
            file.accept(new_heads(2), "Pilar", "survey", now)
        assert file.ground().heads.empty  # reading goes on meanwhile
        other.execute("ROLLBACK")
        file.accept(new_heads(2), "Pilar", "survey", now)
        assert len(file.ground().heads) == 2


def test_threads_share_one_open_file(
    course: CourseFile, new_heads: Callable[..., Changes], now: datetime
) -> None:
    failures: list[BaseException] = []

    def work(name: str) -> None:
        try:
            course.accept(new_heads(40, prefix=name), name, "survey", now)
            course.ground()
        except BaseException as failure:
            failures.append(failure)

    threads = [threading.Thread(target=work, args=(f"T{number}",)) for number in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert failures == []
    assert len(course.ground().heads) == 240
    assert len(course.revisions()) == 6


def test_the_ground_is_read_as_of_one_moment(
    course: CourseFile,
    new_heads: Callable[..., Changes],
    one_area: Changes,
    now: datetime,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A survey accepted between two tables of one reading is in neither."""
    from nightwater.store import course_file

    real, done = course_file.frame, []

    def interrupted(connection, table, crs, equals):  # type: ignore[no-untyped-def]
        if table.name == "heads" and not done:
            done.append(1)
            with CourseFile.open(course.path) as other:
                other.accept(Changes((*new_heads(3).rows, *one_area.rows)), "Quill", "x", now)
        return real(connection, table, crs, equals)

    monkeypatch.setattr(course_file, "frame", interrupted)
    ground = course.ground()
    assert (len(ground.areas), len(ground.heads)) == (0, 0)
    ground = course.ground()
    assert (len(ground.areas), len(ground.heads)) == (1, 3)
