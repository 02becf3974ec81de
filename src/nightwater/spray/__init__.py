"""Head flow, precipitation rate and uniformity."""
