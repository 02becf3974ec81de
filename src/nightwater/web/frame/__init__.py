"""What all pages share: the frame, what a reader chooses, static files, health."""
