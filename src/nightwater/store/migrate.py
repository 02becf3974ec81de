"""Bring an older course file to the present schema, after keeping a copy of it."""

from __future__ import annotations

from importlib.resources import as_file, files
from pathlib import Path
from typing import Final

from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, Engine

from nightwater.findings import UserError
from nightwater.store.backup import copy_whole
from nightwater.store.connection import writing

HEAD: Final = "0001"


def _config(folder: Path, connection: Connection | None = None) -> Config:
    config = Config()
    config.set_main_option("script_location", str(folder))
    config.attributes["connection"] = connection
    return config


def stamp(connection: Connection, revision: str = HEAD) -> None:
    """Mark a file as made by the present schema."""
    context = MigrationContext.configure(connection)
    with as_file(files("nightwater.store") / "migrations") as folder:
        context.stamp(ScriptDirectory.from_config(_config(folder)), revision)


def upgrade(connection: Connection) -> None:
    """Run every migration that a file has not seen."""
    with as_file(files("nightwater.store") / "migrations") as folder:
        command.upgrade(_config(folder, connection), "head")


def _known(revision: str) -> bool:
    with as_file(files("nightwater.store") / "migrations") as folder:
        script = ScriptDirectory.from_config(_config(folder))
        return revision in {item.revision for item in script.walk_revisions()}


def bring_up_to_date(engine: Engine, path: Path) -> None:
    """Migrate an older file in one transaction; a copy of it stays beside it.

    Raises:
        UserError: the file was written by a newer nightwater.
    """
    with engine.connect() as connection:
        present = MigrationContext.configure(connection).get_current_revision()
    if present == HEAD:
        return
    if present is not None and not _known(present):
        raise UserError(
            f"{path.name} was written by a newer nightwater (schema {present}). "
            "Update nightwater to open it; the file was not touched."
        )
    copy_whole(path, path.with_name(f"{path.stem}.before-{HEAD}{path.suffix}"))
    with writing(engine, path) as connection:
        upgrade(connection)
