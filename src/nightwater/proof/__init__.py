"""What the log and the meters say about a night."""
