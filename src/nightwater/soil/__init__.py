"""Turf coefficients, the root-zone account and need."""
