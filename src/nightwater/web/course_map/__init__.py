"""What the map draws: the record's shapes in the course's own metres."""
