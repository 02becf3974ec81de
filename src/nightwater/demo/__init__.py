"""Vellenby, the invented course."""
