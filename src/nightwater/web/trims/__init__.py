"""The Trims page: everything that is not at 100 %, and what it costs."""
