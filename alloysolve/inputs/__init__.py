"""What a person types: piece file, claim, settings, in one schema."""
