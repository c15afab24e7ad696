"""Published values: the tables as typed rows."""
