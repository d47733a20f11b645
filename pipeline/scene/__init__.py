"""The scene file: its model, reading, places of errors and schema."""
