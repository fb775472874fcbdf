"""Procedures that ship with the program, as YAML."""
