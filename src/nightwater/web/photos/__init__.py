"""Photos on the sheet of a row of the record."""
