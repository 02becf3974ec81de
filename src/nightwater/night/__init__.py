"""Minutes, order, referee and rehearsal of a night."""
