"""An intro as it is written down: bars, voices, written values, spelled notes."""
