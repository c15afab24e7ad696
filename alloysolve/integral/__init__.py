"""How much of the belief each body and construction holds, once all readings are known."""
