"""The error model, then one module per reading: what it would show of a candidate, and how far it sees."""
