"""Sentences and tables made from an answer; all sentences are in one file per language."""
