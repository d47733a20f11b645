"""One file for each kind of thing a scene can hold."""
