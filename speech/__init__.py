"""Hears spoken confirmations: exactly the phrases of the present step, or a refusal with its reason."""
