"""Content-addressed store of photos and sound, and what is refused before decoding."""
