"""Who may come in: people, roles, passwords, sessions and one-time links."""
