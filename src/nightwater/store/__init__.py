"""The course file: schema, revisions, undo, migrations."""
