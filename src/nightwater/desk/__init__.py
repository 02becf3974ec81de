"""The use cases, one file a deed: load, decide, save."""
