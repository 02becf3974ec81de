"""Open a course: its file, its settings and its resolved record."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from pathlib import Path
from types import TracebackType
from typing import Self

import pandas as pd

from nightwater.findings import Finding, UserError
from nightwater.ground.checks import Checked, check_whole
from nightwater.ground.links import resolve_station_lists
from nightwater.ground.number_rules import number_rules_from
from nightwater.ground.record import Ground
from nightwater.ground.settings import Settings
from nightwater.ground.tables import GROUND_TABLES, RUNNING_TABLES
from nightwater.store.course_file import CourseFile

Progress = Callable[[str], None]


def silent(_step: str) -> None:
    """Progress that nobody watches."""


@dataclass(frozen=True)
class Course:
    """One course, read once; a deed that saves gives a new one through `reopened`.

    Attributes:
        path: the course file.
        file: the open file; close it, or use the course as a context manager.
        settings: what the course chooses.
        ground: the record, with heads and station list reconciled.
        link_findings: where heads and station list disagree.
        kept: the record as the file holds it, which edits are made to.
    """

    path: Path
    file: CourseFile
    settings: Settings
    ground: Ground
    link_findings: tuple[Finding, ...]
    kept: Ground

    @cached_property
    def checked(self) -> Checked:
        """The record with what every rule about it finds; worked out when first asked for."""
        return check_whole(self.ground, number_rules_from(self.settings.record.numbers))

    def table(self, name: str) -> pd.DataFrame:
        """One table of the record or one running table.

        Raises:
            UserError: no table of that name.
        """
        if name in GROUND_TABLES:
            return self.ground.table(name)
        if name in RUNNING_TABLES:
            return self.file.running(name)
        known = ", ".join((*GROUND_TABLES, *RUNNING_TABLES))
        raise UserError(f"There is no table '{name}'. Known tables: {known}.")

    def __getattr__(self, name: str) -> pd.DataFrame:
        if name in GROUND_TABLES or name in RUNNING_TABLES:
            return self.table(name)
        raise AttributeError(name)

    def reopened(self) -> Course:
        """The course as the file holds it now."""
        return _read(self.path, self.file)

    def close(self) -> None:
        """Let go of the file."""
        self.file.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        value: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()


def _read(path: Path, file: CourseFile) -> Course:
    kept = file.ground()
    ground, findings = resolve_station_lists(kept)
    return Course(path, file, file.settings(), ground, tuple(findings), kept)


def open_course(path: Path | str) -> Course:
    """Open a course file.

    Raises:
        UserError: no such file, or not a course file.
    """
    return _read(Path(path), CourseFile.open(Path(path)))


def night_date(text: str) -> date:
    """The date of a night as a person writes it, YYYY-MM-DD.

    Raises:
        UserError: not a date.
    """
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise UserError(
            f"'{text}' is not a date. Write the evening's date as year-month-day, like 2026-07-14."
        ) from None
