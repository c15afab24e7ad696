"""From an answer to sentences and tables; all sentences stand in one file per language."""
