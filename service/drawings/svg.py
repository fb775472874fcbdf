"""The few SVG elements that the drawings need, as text; every word that comes from outside is escaped."""

from collections.abc import Iterable
from typing import Literal
from xml.sax.saxutils import escape, quoteattr

Anchor = Literal["start", "middle", "end"]

STYLE = """
.paper{fill:#F5F2EA} .card{fill:#FFFFFF} .ink{fill:#1C1D22} .soft{fill:#4B4D57} .against{fill:#7D1F4E}
.doubt{fill:#6E4300} .row{fill:#E9E2CF}
.rule{stroke:#7F7A6C;stroke-width:1;fill:none} .heavy{stroke:#1C1D22;stroke-width:2;fill:none}
.thin{stroke:#1C1D22;stroke-width:1;fill:none}
.dashed{stroke:#1C1D22;stroke-width:1.6;stroke-dasharray:4 3;fill:none}
.mark{stroke:#2B3F8C;stroke-width:1;stroke-dasharray:2 4;fill:none}
.here{stroke:#2B3F8C;stroke-width:1.6;fill:none}
.here-words{fill:#2B3F8C;font-weight:600} .wedge{fill:#2B3F8C;fill-opacity:.25;stroke:#2B3F8C}
text{font-family:system-ui,sans-serif;font-size:14px;font-variant-numeric:tabular-nums}
.small{font-size:12px} .large{font-size:20px;font-weight:600} .bold{font-weight:600}
"""
HATCH = (
    '<pattern id="hatch" width="7" height="7" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
    '<rect width="7" height="7" fill="#FFFFFF"/>'
    '<line x1="0" y1="0" x2="0" y2="7" stroke="#1C1D22" stroke-width="3"/>'
    "</pattern>"
)


def document(width: float, height: float, title: str, description: str, parts: Iterable[str]) -> str:
    """Return a whole drawing with its name and description for readers who hear it."""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:g} {height:g}" width="{width:g}" '
        f'height="{height:g}" role="img" aria-labelledby="title description">'
        f'<title id="title">{escape(title)}</title><desc id="description">{escape(description)}</desc>'
        f"<style>{STYLE}</style><defs>{HATCH}</defs>"
        f"{rect(0, 0, width, height, 'paper')}{''.join(parts)}</svg>\n"
    )


def text(x: float, y: float, words: str, kind: str = "ink", anchor: Anchor = "start") -> str:
    """Return words at a point; `kind` names classes of the style."""
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" class={quoteattr(kind)} text-anchor="{anchor}">{escape(words)}</text>'
    )


def line(x1: float, y1: float, x2: float, y2: float, kind: str = "rule") -> str:
    """Return a line between two points."""
    return f'<line x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}" class={quoteattr(kind)}/>'


def rect(x: float, y: float, width: float, height: float, kind: str) -> str:
    """Return a rectangle by its upper left corner."""
    return (
        f'<rect x="{x:.1f}" y="{y:.1f}" width="{width:.1f}" height="{height:.1f}" class={quoteattr(kind)}/>'
    )


def hatched(x: float, y: float, width: float, height: float) -> str:
    """Return a hatched rectangle with an outline: a contact that is closed."""
    return (
        f'<rect x="{x:.1f}" y="{y:.1f}" width="{width:.1f}" height="{max(height, 0.0):.1f}" '
        'fill="url(#hatch)" stroke="#1C1D22"/>'
    )


def polygon(points: Iterable[tuple[float, float]], kind: str) -> str:
    """Return a filled shape through points."""
    return f'<polygon points="{" ".join(f"{x:.1f},{y:.1f}" for x, y in points)}" class={quoteattr(kind)}/>'


def polyline(points: Iterable[tuple[float, float]], kind: str) -> str:
    """Return a line through points."""
    return f'<polyline points="{" ".join(f"{x:.1f},{y:.1f}" for x, y in points)}" class={quoteattr(kind)}/>'


def shortened(words: str, longest: int) -> str:
    """Return words cut to so many characters, the cut marked."""
    return words if len(words) <= longest else f"{words[: longest - 1]}…"
