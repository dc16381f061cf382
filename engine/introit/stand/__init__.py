"""The page for the music stand: a process that shows what the front tells it, and asks in return."""
