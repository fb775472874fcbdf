"""Drawings of charts and strokes as SVG: words carry the state, marks and hatching only repeat it."""
