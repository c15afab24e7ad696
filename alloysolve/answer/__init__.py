"""The answer as data: its rows, JSON, frames and stored records."""
