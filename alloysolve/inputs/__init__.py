"""What a person types: piece file, claim and settings, in one schema."""
