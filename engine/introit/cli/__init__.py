"""How a person meets it from a terminal. The one place that picks clock, ports and content and passes them in."""
