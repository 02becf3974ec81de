"""Rehearse an approved night and keep the log a real field would have written."""

from __future__ import annotations

from nightwater.desk.course import Course, Progress, silent
from nightwater.desk.nights import night_by_id
from nightwater.findings import UserError
from nightwater.night.rehearsal import Faults, Rehearsal
from nightwater.night.rehearsal import rehearse as rehearse_night


def rehearse(
    course: Course, night_id: str, *, faults: Faults, seed: int, progress: Progress = silent
) -> Rehearsal:
    """Run an approved night against the simulated field; replaces an earlier rehearsal.

    Nothing is kept before the whole night has run: whoever stops it leaves all as it was.

    Raises:
        NotFoundError: no such night.
        UserError: a real course, not approved, or a real field's log is there already.
    """
    site = course.settings.site
    if not site.invented:
        raise UserError(
            f"{site.name} is a real course, and a rehearsal writes an invented log. Rehearse on a "
            "copy: 'nightwater backup COURSE practice.gpkg', then "
            "'nightwater settings practice.gpkg site.invented=true'."
        )
    stored = night_by_id(course, night_id)
    if stored.state != "approved":
        raise UserError(
            f"Edition {stored.edition} of {stored.plan.night} is {stored.state}. "
            "Only an approved night can be rehearsed."
        )
    log = course.file.running("commands", night=night_id)
    if (log["origin"] == "field").any():
        raise UserError(
            f"The field's own log of {stored.plan.night} is in the file; "
            "a rehearsal would mix with it."
        )
    run = rehearse_night(
        stored.plan,
        course.ground,
        faults,
        seed=seed,
        rules=course.settings.night,
        progress=progress,
    )
    course.file.replace_log(
        night_id, {"commands": run.commands, "samples": run.samples}, origin="rehearsal"
    )
    return run
