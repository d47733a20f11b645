"""The air in the room, and how it lightens what is far off."""
