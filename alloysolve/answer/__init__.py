"""The answer as data: its rows, JSON, frames, stored records."""
