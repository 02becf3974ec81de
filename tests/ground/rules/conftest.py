"""How a rule is asked alone, and what the whole check must not say beside it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import pytest

from nightwater.findings import Finding
from nightwater.ground.checks import Rule
from nightwater.ground.linked import Linked


@pytest.fixture
def only() -> Callable[[Mapping[str, list[Finding]], str], Finding]:
    """The one finding of a code, where nothing else was found."""

    def the_one(found: Mapping[str, list[Finding]], code: str) -> Finding:
        assert list(found) == [code], found
        (finding,) = found[code]
        return finding

    return the_one


@pytest.fixture
def told(make: Callable[..., Any]) -> Callable[[Rule, dict[str, Any]], list[Finding]]:
    """What one rule says of some tables, asked alone."""

    def findings(rule: Rule, tables: dict[str, Any]) -> list[Finding]:
        return list(rule.find(Linked(make(tables))))

    return findings


@pytest.fixture
def subjects(told: Callable[..., list[Finding]]) -> Callable[[Rule, dict[str, Any]], list[str]]:
    """The subjects that one rule names of some tables, in order."""

    def named(rule: Rule, tables: dict[str, Any]) -> list[str]:
        return [finding.subject for finding in told(rule, tables)]

    return named
