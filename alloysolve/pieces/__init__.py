"""What a piece can be: its shape, constructions and candidates as arrays."""
