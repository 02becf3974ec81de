"""The club's number rules as data, with what they would change."""
