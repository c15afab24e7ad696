"""Fits the derived table pairs.csv to the published points; nothing here is used when a piece is solved."""
