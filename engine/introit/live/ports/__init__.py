"""Ports: one file for each system. A port library is imported inside the function that opens its port."""
