"""Pitches, keys, numerals, chords and scales. Pure: no I/O, no state, nothing above it imported."""
