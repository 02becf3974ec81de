"""One rule a module: what is doubtful about the record, how grave it is, what to do."""
