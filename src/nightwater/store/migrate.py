"""The version of a course file: told, brought up to date, refused when too new."""

from __future__ import annotations

from pathlib import Path
from typing import Final

from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, Engine

from nightwater.findings import UserError
from nightwater.store.backup import copy_course
from nightwater.store.connection import reading, writing

MIGRATIONS: Final = Path(__file__).parent / "migrations"


def _config(connection: Connection | None = None) -> Config:
    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS).replace("%", "%%"))
    config.attributes["connection"] = connection
    return config


def newest_version() -> str:
    """The version this program writes."""
    newest = ScriptDirectory.from_config(_config()).get_current_head()
    if newest is None:
        raise RuntimeError("The package holds no migrations.")
    return newest


def version_of(connection: Connection) -> str | None:
    """The version a file says it has; None where it says none."""
    return MigrationContext.configure(connection).get_current_revision()


def stamp(connection: Connection) -> None:
    """Say that a freshly made file has the newest version."""
    command.stamp(_config(connection), "head")


def check_version(version: str | None, name: str) -> None:
    """Refuse a file that this program cannot read.

    Raises:
        UserError: the version is newer, or none.
    """
    known = {script.revision for script in ScriptDirectory.from_config(_config()).walk_revisions()}
    if version is None:
        raise UserError(f"{name} says no version, so it is not a course file.")
    if version not in known:
        raise UserError(
            f"{name} was written by a newer nightwater (version {version}; this one knows up to "
            f"{newest_version()}). Update nightwater to open it."
        )


def copy_name(path: Path, version: str) -> Path:
    """Where the copy of an older file goes: beside it, under a name that is free."""
    number = 1
    while True:
        ending = "" if number == 1 else f"-{number}"
        copy = path.with_name(f"{path.stem}.before-{version}-update{ending}{path.suffix}")
        if not copy.exists():
            return copy
        number += 1


def bring_up_to_date(path: Path, engine: Engine) -> Path | None:
    """Migrate an older file, after copying it beside itself.

    Returns:
        The copy, or None where the file was up to date.

    Raises:
        UserError: the file is newer than this program, or cannot be copied.
        ConflictError: another program is writing to it.
    """
    with reading(engine) as connection:
        version = version_of(connection)
    check_version(version, path.name)
    if version == newest_version():
        return None
    with writing(engine) as connection:
        if version_of(connection) != version:
            return None  # another program brought it up to date while we waited
        copy = copy_name(path, str(version))
        copy_course(path, copy)
        command.upgrade(_config(connection), "head")
    return copy
