"""How a person meets it from a terminal: the one place that picks clock, ports and content."""
