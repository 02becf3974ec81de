"""The command line: each command calls one desk deed and prints what it gives."""

from nightwater.cli.app import main

__all__ = ["main"]
