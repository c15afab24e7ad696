"""What to measure next, what disagrees, what could not have shown, and what would change the answer."""
