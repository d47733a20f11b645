"""Flights of steps: their measures, their faces, what they cut from floors and walls, and the flight as one body."""
