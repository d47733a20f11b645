"""What fills the openings, and what holds the room up."""
