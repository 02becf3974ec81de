"""What all pages share: the frame, the theme, static files, health."""
