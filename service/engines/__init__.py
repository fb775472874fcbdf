"""The only callers of speech/ and vision/: they turn their results into claims and readings."""
