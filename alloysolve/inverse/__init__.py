"""From readings back to what fits: weighing, mixtures, families, constructions, claims, verdicts."""
