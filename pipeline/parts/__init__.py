"""Imagined faces and solids made into panels and prints."""
