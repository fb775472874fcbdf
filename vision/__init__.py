"""Reads cam bars in a photo of a limit switch: angle, state, doubt."""
