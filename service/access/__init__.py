"""Passwords, sessions and devices."""
