"""From the readings of a scale to a density with its uncertainty budget."""
