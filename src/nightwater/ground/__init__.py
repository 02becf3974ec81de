"""The record: what is in the ground, its tables, links and checks."""
