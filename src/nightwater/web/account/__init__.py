"""Login, logout and the pages behind one-time links."""
