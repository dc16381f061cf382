"""Introit: plays a chosen intro in the key that was called and stops on the head's downbeat."""

__version__ = "0.1.0"
