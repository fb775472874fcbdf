"""Canonical bytes, hash chain, signed heads, and the check that a journal is whole."""
