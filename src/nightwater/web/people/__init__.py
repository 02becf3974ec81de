"""The People page."""
