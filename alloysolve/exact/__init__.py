"""Exact lists without a prior: pairs, triples, bounds under constraints."""
