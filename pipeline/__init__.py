"""Foreshorten: false-perspective rooms for shallow boxes."""
