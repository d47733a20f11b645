"""What an eye sees."""
