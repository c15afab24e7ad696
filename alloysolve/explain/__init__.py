"""From codes and values to words and tables; all sentences stand in one file per language."""
