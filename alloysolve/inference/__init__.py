"""Prior, likelihood, posterior and decision: the engine."""
