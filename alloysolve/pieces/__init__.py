"""What a piece can be: shapes, materials of skins, constructions, candidates as arrays."""
