"""The reference pages and schemas in docs/, derived from the declarations."""

from __future__ import annotations

import json
from pathlib import Path

from nightwater.desk.schema import SCHEMAS
from nightwater.desk.setting_words import setting_words
from nightwater.ground.columns import Column, Table
from nightwater.ground.tables import TABLES
from nightwater.units import UNITS


def _bounds(column: Column) -> str:
    if column.choices:
        return ", ".join(column.choices)
    if column.refers_to:
        return f"id in {column.refers_to}"
    if column.lowest is None or column.highest is None:
        return ""
    return f"{column.lowest:g} to {column.highest:g}"


def _units(column: Column) -> str:
    symbols = [unit.symbol for unit in UNITS.values() if unit.quantity == column.quantity]
    return ", ".join(symbols)


def _table_page(table: Table) -> list[str]:
    shape = f" Geometry: {table.shape.value}." if table.shape else ""
    lines = [f"## {table.name}", "", f"{table.meaning}{shape}", ""]
    lines += ["| column | value | required | bounds | declared units | meaning |"]
    lines += ["|---|---|---|---|---|---|"]
    for column in table.columns:
        required = "yes" if column.required else ""
        lines.append(
            f"| `{column.name}` | {column.kind.value} | {required} | {_bounds(column)} "
            f"| {_units(column)} | {column.meaning} |"
        )
    return [*lines, ""]


def tables_page() -> str:
    """docs/tables.md: every table and column of the course file."""
    head = [
        "# The tables of the course file",
        "",
        "Made from `ground/tables.py` by `make docs`; a test fails when it is out of date.",
        "Every row also has `id`, a stable text that survives renumbering. A number ends in the",
        "unit it is kept in; a surveyed file may use any of the declared units if it says so.",
        "",
    ]
    return "\n".join(head + [line for t in TABLES.values() for line in _table_page(t)])


def settings_page() -> str:
    """docs/settings.md: every setting with meaning, unit, range and default."""
    lines = [
        "# Settings",
        "",
        "`nightwater settings COURSE` shows them with what they are now;",
        "`nightwater settings COURSE night.start=21:00` changes one, as a revision.",
        "Made from `ground/settings.py` by `make docs`.",
        "",
        "| setting | default | unit | may be | meaning |",
        "|---|---|---|---|---|",
    ]
    for one in setting_words():
        default = f"`{one.default}`" if one.default else ""
        lines.append(f"| `{one.name}` | {default} | {one.unit} | {one.may_be} | {one.meaning} |")
    return "\n".join([*lines, ""])


def write_reference(folder: Path) -> None:
    """Write the derived pages and schemas into a docs folder."""
    (folder / "schema").mkdir(parents=True, exist_ok=True)
    (folder / "tables.md").write_text(tables_page())
    (folder / "settings.md").write_text(settings_page())
    for name, schema in SCHEMAS.items():
        text = json.dumps(schema(), indent=1) + "\n"
        (folder / "schema" / f"{name}.schema.json").write_text(text)


if __name__ == "__main__":
    write_reference(Path("docs"))
