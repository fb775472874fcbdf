"""Canonical bytes, hash chain, signed heads, and the check that a journal is whole.

`check`, `ed25519`, `strict_json` and `digests` run on a bare Python, without any package installed: they go
into every package of a job as part of its stand-alone check.
"""
