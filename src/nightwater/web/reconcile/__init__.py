"""Heads in the ground against the station list, judged hole by hole."""
