"""What lands in files. Reads performances, never makes music."""
