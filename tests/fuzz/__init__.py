"""Scenes that nobody meant: mutated, random and hostile ones; ``python -m tests.fuzz`` runs as many as wanted."""
