"""The house rules that a machine can check: docs name what the code holds, arrows point one way."""

from __future__ import annotations

import ast
import json
import re
from pathlib import Path

import pytest
from typer.main import get_command

from nightwater.cli.app import app
from nightwater.desk.reference import settings_page, tables_page
from nightwater.desk.schema import SCHEMAS
from nightwater.ground.columns import Kind
from nightwater.ground.tables import TABLES

ROOT = Path(__file__).parents[1]
SOURCE = ROOT / "src" / "nightwater"
DOCS = "\n".join(path.read_text() for path in (ROOT / "docs").rglob("*.md"))
MAKERS = {"error", "warning", "note", "Finding"}


def named_code(node: ast.AST) -> set[str]:
    """The code that a rule's module is called by: `CODE: Final = "..."`."""
    named = isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name)
    if named and node.target.id == "CODE" and isinstance(node.value, ast.Constant):
        return {node.value.value}
    return set()


def finding_codes() -> set[str]:
    """Every literal code that the source gives to a finding, and every rule's."""
    codes = set()
    for path in SOURCE.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text())):
            codes |= named_code(node)
            if not (isinstance(node, ast.Call) and isinstance(node.func, ast.Name)):
                continue
            if node.func.id not in MAKERS:
                continue
            place = 1 if node.func.id == "Finding" else 0
            words = [keyword.value for keyword in node.keywords if keyword.arg == "code"]
            words += node.args[place : place + 1]
            codes |= {w.value for w in words if isinstance(w, ast.Constant)}
    return codes


def test_there_are_findings_to_document() -> None:
    assert len(finding_codes()) > 30


@pytest.mark.parametrize("code", sorted(finding_codes()))
def test_every_finding_code_stands_in_the_docs(code: str) -> None:
    assert re.fullmatch(r"[a-z][a-z0-9]*(-[a-z0-9]+)*", code)
    assert f"`{code}`" in DOCS


@pytest.mark.parametrize("name", sorted(get_command(app).commands))  # type: ignore[attr-defined]
def test_every_command_stands_in_the_docs_and_teaches(name: str) -> None:
    assert f"`nightwater {name}" in (ROOT / "docs" / "commands.md").read_text()
    command = get_command(app).commands[name]  # type: ignore[attr-defined]
    assert len(command.help or "") > 30
    nameless = [p.name for p in command.params if not getattr(p, "help", "x")]
    assert nameless == []


def test_derived_pages_are_up_to_date() -> None:
    assert (ROOT / "docs" / "tables.md").read_text() == tables_page()
    assert (ROOT / "docs" / "settings.md").read_text() == settings_page()


@pytest.mark.parametrize("name", sorted(SCHEMAS))
def test_schema_files_are_up_to_date(name: str) -> None:
    path = ROOT / "docs" / "schema" / f"{name}.schema.json"
    assert json.loads(path.read_text()) == SCHEMAS[name]()


def test_every_setting_has_its_meaning_in_the_docs() -> None:
    rows = [line.split("|") for line in settings_page().splitlines() if line.startswith("| `")]
    assert len(rows) > 25
    assert [row[1] for row in rows if not row[5].strip()] == []


def test_every_number_of_the_record_says_its_unit_or_is_a_plain_ratio() -> None:
    suffixes = {"length": "_m", "depth": "_mm", "flow": "_l_s", "pressure": "_kpa", "area": "_m2"}
    suffixes |= {
        "speed": "_m_s",
        "share": "_pct",
        "angle": "_deg",
        "volume": "_m3",
        "rate": "_mm_h",
    }
    for table in TABLES.values():
        for column in table.columns:
            if column.kind is Kind.NUMBER and column.quantity in suffixes:
                assert column.name.endswith(suffixes[column.quantity]), (table.name, column.name)


def test_links_lead_to_tables() -> None:
    wrong = [
        (table.name, column.name)
        for table in TABLES.values()
        for column in table.columns
        if column.refers_to is not None and column.refers_to not in TABLES
    ]
    assert wrong == []


def test_words_in_use_stand_in_the_glossary() -> None:
    glossary = (ROOT / "docs" / "glossary.md").read_text()
    for word in ("proposal", "referee", "rehearsal", "proof", "trim", "hold", "rotation floor"):
        assert f"| {word}" in glossary


def test_links_between_docs_lead_somewhere() -> None:
    broken = []
    for page in [ROOT / "README.md", ROOT / "CONTRIBUTING.md", *(ROOT / "docs").rglob("*.md")]:
        for target in re.findall(r"\]\(([^)#]+)(?:#[^)]*)?\)", page.read_text()):
            if "://" not in target and not (page.parent / target).exists():
                broken.append((page.name, target))
    assert broken == []


def test_core_never_prints_or_reads_a_clock() -> None:
    core = ("ground", "weather", "soil", "spray", "pipes", "night", "proof", "ledger")
    forbidden = re.compile(r"\bprint\(|\bopen\(|datetime\.now|date\.today|time\.time|os\.environ")
    found = [
        (path.name, match.group())
        for package in core
        for path in (SOURCE / package).rglob("*.py")
        for match in forbidden.finditer(path.read_text())
    ]
    assert found == []
