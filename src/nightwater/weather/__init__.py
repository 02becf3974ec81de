"""Weather series, their quality, reference ET, sun and dark hours."""
