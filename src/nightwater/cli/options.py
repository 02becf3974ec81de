"""Arguments and options that several commands share."""

from __future__ import annotations

import getpass
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated

import typer

from nightwater.findings import UserError
from nightwater.units import UnitSystem

CourseArgument = Annotated[
    Path, typer.Argument(metavar="COURSE", help="The course file, ending in .gpkg.")
]
NightOption = Annotated[
    str, typer.Option("--night", help="Date of the evening on which the night starts, YYYY-MM-DD.")
]
ByOption = Annotated[
    str | None, typer.Option("--by", help="Who does this; your login name where not given.")
]
UnitsOption = Annotated[
    UnitSystem | None,
    typer.Option(
        "--units",
        help="Read in us or metric; a table follows the course, csv and json stay metric.",
    ),
]
WhyOption = Annotated[str, typer.Option("--why", help="Why, for the history.")]


def now() -> datetime:
    """The present instant, to the second. The only clock of the command line."""
    return datetime.now(UTC).replace(microsecond=0)


def author(given: str | None) -> str:
    """Who does this."""
    return given or getpass.getuser()


def confirmed(question: str) -> bool:
    """The person's yes or no.

    Raises:
        UserError: nobody is there to answer.
    """
    try:
        return typer.confirm(question, err=True)
    except typer.Abort:
        raise UserError("Nobody answered, so nothing was changed. --yes accepts unasked.") from None


def pairs(values: Sequence[str], option: str) -> dict[str, str]:
    """Options of the form NAME=VALUE.

    Raises:
        UserError: no equals sign.
    """
    wrong = [value for value in values if "=" not in value]
    if wrong:
        raise UserError(f"{option} takes NAME=VALUE; '{wrong[0]}' has no equals sign.")
    return dict(value.split("=", 1) for value in values)
