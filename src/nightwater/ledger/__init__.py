"""Water, energy and money, by night."""
