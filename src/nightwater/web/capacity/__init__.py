"""Capacity: what the system can do on a peak day, on one page."""
