"""One rule a module: what is doubtful about the pipes, how grave it is, what to do."""
