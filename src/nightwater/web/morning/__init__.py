"""The Morning page: did it happen, and what to rescue."""
