"""Build the demo course the way a club would: survey files in, then night after night."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Final

from nightwater.demo.vellenby import SETTINGS, SurveyFile, write_survey
from nightwater.desk.approving import approve
from nightwater.desk.checking import check
from nightwater.desk.course import Course, open_course
from nightwater.desk.morning import morning
from nightwater.desk.planning import plan
from nightwater.desk.rehearsing import rehearse
from nightwater.desk.surveying import accept, survey_file
from nightwater.desk.weathering import add_weather
from nightwater.findings import UserError, has_errors
from nightwater.night.rehearsal import Faults
from nightwater.store.course_file import CourseFile

DEMO_NIGHT: Final = date(2025, 7, 10)
NIGHT_BEFORE: Final = date(2025, 7, 9)
SURVEYED: Final = datetime(2025, 7, 8, 20, tzinfo=UTC)
SUPERINTENDENT: Final = "Ines Calloran"
TECHNICIAN: Final = "Pilar Quen"
REHEARSAL_SEED: Final = 9

Progress = Callable[[str], None]


def _fresh_course(path: Path) -> None:
    for leftover in path.parent.glob(f"{path.name}*"):
        leftover.unlink()
    CourseFile.create(path, SETTINGS).close()


def _survey(course: Course, files: list[SurveyFile], progress: Progress) -> Course:
    for number, file in enumerate(files, 1):
        progress(f"survey {number} of {len(files)}: {file.path.name} as {file.table}")
        proposal = survey_file(course, file.path, file.table, file.options, complete=False)
        if has_errors(proposal.findings):
            raise UserError(f"The demo's {file.path.name} does not load: {proposal.findings[0]}")
        why = f"survey of {file.path.name}"
        accept(course, proposal, with_doubtful=False, who=TECHNICIAN, why=why, now=SURVEYED)
        course = course.reopened()
    return course


def _evening_before(course: Course, progress: Progress) -> None:
    """Plan, approve, rehearse and prove the night before, so that the morning has something."""
    afternoon = datetime(2025, 7, 9, 21, tzinfo=UTC)
    progress(f"plan, approve, rehearse and prove the night of {NIGHT_BEFORE}")
    stored = plan(course, NIGHT_BEFORE, who=SUPERINTENDENT, now=afternoon)
    stored = approve(course, stored.id, who=SUPERINTENDENT, now=afternoon + timedelta(minutes=20))
    rehearse(course, stored.id, faults=Faults(), seed=REHEARSAL_SEED)
    morning(course, NIGHT_BEFORE)


def build_demo(folder: Path, progress: Progress) -> Path:
    """Write the invented club's survey files, read them, and plan tonight.

    Args:
        folder: where `survey/` and `vellenby.gpkg` go; an earlier demo there is replaced.
        progress: told each step.

    Returns:
        The course file.

    Raises:
        UserError: the folder cannot be written.
    """
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / "vellenby.gpkg"
    progress("writing the survey files of the invented Vellenby Golf Club")
    survey = write_survey(folder / "survey")
    _fresh_course(path)
    with open_course(path) as opened:
        course = _survey(opened, survey.files, progress)
        for weather in survey.weather:
            progress(f"weather: {weather.path.name}")
            add_weather(
                course, weather.path, columns={}, units={}, origin=weather.origin, replace=False
            )
        findings = check(course)
        progress(f"checked the record: {len(findings)} findings")
        _evening_before(course, progress)
        progress(f"plan tonight, {DEMO_NIGHT}")
        plan(course, DEMO_NIGHT, who=SUPERINTENDENT, now=datetime(2025, 7, 10, 21, tzinfo=UTC))
    return path
