"""The command line's verbs, one a file."""
