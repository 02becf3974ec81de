"""New columns of a table where a new file has them, for migrations."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from alembic import op
from sqlalchemy import text

EVIDENCE: Final = "evidence TEXT"


def widen(table: str, columns: Sequence[str], before: str = EVIDENCE) -> None:
    """Write a table anew with more columns in a certain place; its rows have nothing in them.

    Args:
        table: its name.
        columns: the new ones, each as SQL declares it.
        before: the words of the table's own declaration in front of which they stand.
    """
    connection = op.get_bind()
    found = connection.execute(
        text("SELECT sql FROM sqlite_master WHERE type = 'table' AND name = :name"), {"name": table}
    )
    made = str(found.scalar_one()).replace(before, f"{', '.join(columns)}, {before}", 1)
    old = ", ".join(
        f'"{row[1]}"' for row in connection.execute(text(f"PRAGMA table_info({table})"))
    )
    op.execute(f"ALTER TABLE {table} RENAME TO {table}_before")
    connection.exec_driver_sql(made)
    op.execute(f"INSERT INTO {table} ({old}) SELECT {old} FROM {table}_before")
    op.execute(f"DROP TABLE {table}_before")
