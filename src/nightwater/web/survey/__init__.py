"""Somebody's file, looked at as a proposal and accepted in part or whole."""
