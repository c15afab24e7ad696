"""Exact lists without a prior: pairs, triples, and ranges of any number of metals under constraints."""
