"""Kinds of readings, one module each: the value as read, and how pieces are compared with it."""
