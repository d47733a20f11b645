"""A vault over the hall: its table, its shape, its webs and its ribs."""
