"""Reading a weather file as text: encoding, separator, header line, cells to numbers."""

from __future__ import annotations

import codecs
import csv
import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np

from nightwater.findings import Finding, UserError, note, warning
from nightwater.survey.weather_columns import unit_from_words
from nightwater.weather.air import Numbers

_BOMS: Final = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
_SEPARATORS: Final = (",", ";", "\t", None)  # None: any white space
_PREVIEW_LINES: Final = 80
_NUMBER_LIKE: Final = re.compile(r"^[-+]?[\d.][\dTZtEe.,:/+\- ]*$")
MISSING_WORDS: Final = frozenset(
    ("", "-", "--", "---", "na", "n/a", "nan", "null", "none", "m", "missing", "#n/a", "?")
)
MISSING_CODES: Final = (-999.0, -9999.0, -99999.0, -9900.0, -6999.0)


@dataclass(frozen=True)
class TextTable:
    """A file as cells.

    Attributes:
        header: their column names.
        rows: cells as text, one list a row, each as long as the header.
        lines: line number in the file of each row, from 1.
        stated_units: unit symbols that lines above the header state, by their name.
        facts: other things those lines state, by their name.
        decimal_comma: whether a comma is the decimal mark.
        findings: broken rows and a doubtful encoding.
    """

    header: tuple[str, ...]
    rows: list[list[str]]
    lines: list[int]
    stated_units: Mapping[str, str]
    facts: Mapping[str, str]
    decimal_comma: bool
    findings: tuple[Finding, ...]

    def column(self, theirs: str) -> list[str]:
        """The cells of one column."""
        at = self.header.index(theirs)
        return [row[at] for row in self.rows]


def read_text(path: Path) -> tuple[str, list[Finding]]:
    """A file's text, whatever its encoding says.

    Raises:
        UserError: there is no such file, or it is not text.
    """
    try:
        raw = path.read_bytes()
    except OSError as trouble:
        raise UserError(f"{path} cannot be read: {trouble.strerror}.") from trouble
    for mark, encoding in _BOMS:
        if raw.startswith(mark):
            return raw.decode(encoding, errors="replace"), []
    if b"\0" in raw[:4096]:
        raise UserError(f"{path.name} is not a text file; export the weather as CSV.")
    try:
        return raw.decode("utf-8"), []
    except UnicodeDecodeError:
        found = note(
            "weather-encoding",
            path.name,
            "The file is not in UTF-8; it was read as Windows-1252.",
            "Nothing, as long as the column names look right.",
        )
        return raw.decode("cp1252", errors="replace"), [found]


def _split(line: str, separator: str | None) -> list[str]:
    if separator is None:
        return line.split()
    cells = next(csv.reader([line], delimiter=separator), [])
    return [cell.strip() for cell in cells]


def _separator(lines: Sequence[str]) -> str | None:
    """The separator that gives most lines the same, largest number of cells."""
    best: tuple[float, int] = (0, 0)
    chosen: str | None = ","
    for separator in _SEPARATORS:
        counts = Counter(len(_split(line, separator)) for line in lines[-40:])
        width, times = counts.most_common(1)[0]
        score = (round(times / len(lines[-40:]), 1), width)
        if width > 1 and score > best:
            best, chosen = score, separator
    return chosen


def _number_share(cells: Sequence[str]) -> float:
    filled = [cell for cell in cells if cell]
    return sum(bool(_NUMBER_LIKE.match(cell)) for cell in filled) / max(1, len(filled))


def _header_line(cells: Sequence[Sequence[str]]) -> int | None:
    """The first line of words above lines of numbers."""
    for at, line in enumerate(cells[:-1]):
        below = cells[at + 1 : at + 4]
        if len([cell for cell in line if cell]) < 2 or _number_share(line) > 0:
            continue
        if all(_number_share(row) > 0.3 and len(row) == len(below[0]) for row in below):
            return at
    return None


def _above(cells: Sequence[Sequence[str]]) -> tuple[dict[str, str], dict[str, str]]:
    """Units and facts from a pair of lines above the header: names and values."""
    if len(cells) < 2 or len(cells[0]) != len(cells[1]):
        return {}, {}
    facts = dict(zip(cells[0], cells[1], strict=True))
    units = {
        name.removesuffix(" Units"): unit
        for name, words in facts.items()
        if name.endswith(" Units") and (unit := unit_from_words(words)) is not None
    }
    return units, facts


def read_cells(path: Path) -> TextTable:
    """A weather file as cells under a header.

    Raises:
        UserError: no such file, no text, or no header above rows of numbers.
    """
    text, findings = read_text(path)
    numbered = [(at, line) for at, line in enumerate(text.splitlines(), 1) if line.strip()]
    if len(numbered) < 2:
        raise UserError(f"{path.name} has no rows.")
    separator = _separator([line for _, line in numbered[:_PREVIEW_LINES]])
    cells = [_split(line, separator) for _, line in numbered]
    at = _header_line(cells[:_PREVIEW_LINES])
    if at is None:
        raise UserError(
            f"{path.name} has no line of column names above rows of numbers. Add one, for "
            "instance: date,tmax_c,tmin_c,rh_max_pct,rh_min_pct,wind_m_s,solar_mj_m2,rain_mm."
        )
    width = max(at + 1 for at, cell in enumerate(cells[at]) if cell)
    header = tuple(cells[at][:width])
    doubled = [name for name, times in Counter(header).items() if times > 1 and name]
    if doubled:
        raise UserError(f"{path.name} has two columns named '{doubled[0]}'; rename one.")
    rows, lines, broken = _whole_rows(cells[at + 1 :], numbered[at + 1 :], width)
    if broken:
        findings.append(_broken(path.name, broken, width))
    units, facts = _above(cells[:at])
    comma = separator in {";", "\t"} and _uses_decimal_comma(rows)
    return TextTable(header, rows, lines, units, facts, comma, tuple(findings))


def _whole_rows(
    cells: Sequence[list[str]], numbered: Sequence[tuple[int, str]], width: int
) -> tuple[list[list[str]], list[int], list[int]]:
    rows, lines, broken = [], [], []
    for row, (line, _) in zip(cells, numbered, strict=True):
        if len(row) < width or any(row[width:]):
            broken.append(line)
        else:
            rows.append(row[:width])
            lines.append(line)
    return rows, lines, broken


def _broken(name: str, lines: Sequence[int], width: int) -> Finding:
    return warning(
        "weather-row-broken",
        f"{name}:{lines[0]}",
        f"{len(lines)} line(s) do not have {width} cells, the first is line {lines[0]}; "
        "they were left out.",
        "Mend the lines; a cell with the separator in it needs quotes.",
    )


def _uses_decimal_comma(rows: Sequence[Sequence[str]]) -> bool:
    return any(re.fullmatch(r"[-+]?\d+,\d+", cell) for row in rows[:200] for cell in row)


def cell_numbers(
    table: TextTable, theirs: str, ours: str, name: str
) -> tuple[Numbers, list[Finding]]:
    """A column's numbers, still in its own unit; NaN where there is none.

    Args:
        table: the file as cells.
        theirs, ours: the column's name there and here.
        name: the file's name, for findings.

    Returns:
        One number a row, and findings for text in cells and for codes of missing values.
    """
    cells = table.column(theirs)
    if table.decimal_comma:
        cells = [cell.replace(",", ".") for cell in cells]
    values = np.full(len(cells), np.nan)
    words: list[int] = []
    for row, cell in enumerate(cells):
        try:
            values[row] = float(cell)
        except ValueError:
            if cell.strip().lower() not in MISSING_WORDS:
                words.append(row)
    findings = []
    traces = [row for row in words if ours == "rain_mm" and cells[row].strip().upper() == "T"]
    values[traces] = 0.0
    words = [row for row in words if row not in set(traces)]
    if words:
        findings.append(_not_a_number(table, theirs, cells, words))
    codes = np.isin(values, MISSING_CODES)
    if codes.any():
        findings.append(_codes(name, theirs, values, codes))
    values[codes | np.isinf(values)] = np.nan
    return values, findings


def _not_a_number(
    table: TextTable, theirs: str, cells: Sequence[str], words: Sequence[int]
) -> Finding:
    line = table.lines[words[0]]
    return warning(
        "weather-not-a-number",
        f"weather:line {line}",
        f"'{cells[words[0]]}' in column {theirs}, line {line}, is not a number; "
        f"{len(words)} such cell(s) were taken as missing.",
        "Put the number right in the file, or leave the cell empty.",
    )


def _codes(
    name: str, theirs: str, values: Numbers, codes: np.ndarray[tuple[int], np.dtype[np.bool_]]
) -> Finding:
    kinds = ", ".join(f"{code:g}" for code in np.unique(values[codes]))
    return note(
        "weather-missing-code",
        f"{name}:{theirs}",
        f"{int(codes.sum())} cell(s) of {theirs} hold {kinds}, a code for a missing value.",
        "Nothing.",
    )
