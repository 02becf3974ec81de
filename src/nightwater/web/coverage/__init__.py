"""The Coverage page: where water lands and how evenly."""
