"""From an answer to the sheet for the seller."""
