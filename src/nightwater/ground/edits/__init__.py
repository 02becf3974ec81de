"""Edits of the record: pure functions from one ground to the next, one module each."""
