"""The pages of the day."""
