"""Catch-can audits: plan, enter on a phone, read, accept."""
