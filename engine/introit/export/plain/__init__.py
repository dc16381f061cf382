"""Drawings in plain text: tab, chord diagrams and a piano roll, for a terminal of so many columns."""
