"""One module a command (or a family of listings); each is imported when it is called."""
