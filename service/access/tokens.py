"""Opaque random tokens.

Only their SHA-256 is stored: who reads the database cannot sign in with what is found.
"""

import hashlib
import secrets


class OpaqueTokens:
    """Implements `ports.Tokens`: 256 bits each (OWASP ASVS 5.0, 7.2.3, asks for at least 128)."""

    def new(self) -> str:
        """Return a token that never existed before."""
        return secrets.token_urlsafe(32)

    def digest(self, token: str) -> str:
        """Return what is stored instead of the token."""
        return hashlib.sha256(token.encode()).hexdigest()
