"""The error model, and one module per reading: what the reading would show of a candidate, and how deep it sees."""
