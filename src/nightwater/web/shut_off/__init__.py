"""Break here: which valves to close, on the map, as a list and as a card to print."""
