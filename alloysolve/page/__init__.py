"""The sheet for the seller, made from an answer."""
