"""From the scene to the hall, the relief and everything imagined."""
