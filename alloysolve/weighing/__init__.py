"""From the scale to a density with its budget."""
