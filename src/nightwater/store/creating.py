"""Make an empty course file."""

from __future__ import annotations

import json
import os
import tempfile
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from nightwater.findings import UserError
from nightwater.ground.settings import Settings
from nightwater.store.connection import connect, writing
from nightwater.store.geopackage import lay_out
from nightwater.store.migrate import stamp
from nightwater.store.place import projected_crs
from nightwater.store.schema import METADATA
from nightwater.store.settings_checks import check_settings
from nightwater.store.settings_document import settings_to_document

# A new file has no history yet; its layers get their times from the first revision.
_BEFORE_HISTORY: Final = datetime(2000, 1, 1, tzinfo=UTC)


def check_can_create(path: Path) -> None:
    """Refuse a name under which no course can be made.

    Raises:
        UserError: the file exists, its folder does not, or it does not end in .gpkg.
    """
    if path.suffix.lower() != ".gpkg":
        raise UserError(f"A course file ends in .gpkg; '{path.name}' does not.")
    if path.exists():
        raise UserError(f"{path} exists already. Choose another name, or move it away first.")
    if not path.parent.is_dir():
        raise UserError(f"There is no folder {path.parent}. Make it first.")


def _fill(part: Path, settings: Settings) -> None:
    engine = connect(part)
    try:
        with writing(engine) as connection:
            lay_out(connection, settings.site.crs, _BEFORE_HISTORY)
            METADATA.create_all(connection)
            document = json.dumps(settings_to_document(settings), ensure_ascii=False)
            connection.exec_driver_sql(
                "INSERT INTO settings (fid, id, document) VALUES (1, 'settings', ?)", (document,)
            )
            stamp(connection)
    finally:
        engine.dispose()


def made_file(path: Path, settings: Settings) -> None:
    """Make an empty course under its name, which appears only when the file is complete.

    Raises:
        UserError: see `check_can_create` and `check_settings`; or the coordinate system is
            not metric.
    """
    check_can_create(path)
    check_settings(settings)
    projected_crs(settings.site.latitude_deg, settings.site.longitude_deg, settings.site.crs)
    try:
        folder = tempfile.mkdtemp(dir=path.parent, prefix=f".{path.name}-")
    except OSError as trouble:
        raise UserError(f"{path.parent} cannot be written: {trouble.strerror}.") from trouble
    part = Path(folder) / path.name
    try:
        _fill(part, settings)
        _take_name(part, path)
    finally:
        for leftover in Path(folder).iterdir():
            leftover.unlink()
        Path(folder).rmdir()


def _take_name(part: Path, path: Path) -> None:
    # A hard link fails where the name was taken meanwhile; a rename would overwrite it.
    try:
        os.link(part, path)
    except FileExistsError:
        raise UserError(f"{path} exists already. Choose another name.") from None
    except OSError:
        part.replace(path)
