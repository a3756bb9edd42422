"""A reliability diagram, written as SVG by hand."""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence

SIDE, MARGIN = 300, 46
COLOURS = ("#1b6ca8", "#b8561b", "#4a7c2a")


def diagram(bins: Mapping[str, Sequence[tuple[float, float, int]]]) -> str:
    """Draw stated probability against the share that was right; dots grow with their count."""
    whole = SIDE + 2 * MARGIN
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {whole} {whole}" '
        f'font-family="sans-serif" font-size="11">',
        f'<rect width="{whole}" height="{whole}" fill="white"/>',
        _line(0, 0, 1, 1, "#999", dash="4 3"),
        _line(0, 0, 1, 0, "#333"),
        _line(0, 0, 0, 1, "#333"),
    ]
    for tick in (0.0, 0.25, 0.5, 0.75, 1.0):
        parts.append(_text(tick, -0.06, f"{tick:.2f}"))
        parts.append(_text(-0.08, tick - 0.01, f"{tick:.2f}"))
    parts.append(_text(0.5, -0.12, "stated probability of the first candidate"))
    parts.append(_text(0.12, 1.05, "share that was right"))
    for (name, dots), colour in zip(bins.items(), COLOURS, strict=False):
        for (s0, r0, _), (s1, r1, _) in itertools.pairwise(dots):
            parts.append(_line(s0, r0, s1, r1, colour))
        for stated, right, count in dots:
            radius = 2 + min(6.0, count**0.5 / 6)
            parts.append(
                f'<circle cx="{_x(stated):.1f}" cy="{_y(right):.1f}" r="{radius:.1f}" '
                f'fill="{colour}" fill-opacity="0.75"/>'
            )
        place = 0.95 - 0.06 * list(bins).index(name)
        parts.append(_text(0.14, place, name, colour))
    return "\n".join([*parts, "</svg>", ""])


def _x(value: float) -> float:
    return MARGIN + SIDE * value


def _y(value: float) -> float:
    return MARGIN + SIDE * (1 - value)


def _line(x0: float, y0: float, x1: float, y1: float, colour: str, *, dash: str = "") -> str:
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<line x1="{_x(x0):.1f}" y1="{_y(y0):.1f}" x2="{_x(x1):.1f}" y2="{_y(y1):.1f}" '
        f'stroke="{colour}"{dashed}/>'
    )


def _text(x: float, y: float, words: str, colour: str = "#333") -> str:
    return (
        f'<text x="{_x(x):.1f}" y="{_y(y):.1f}" text-anchor="middle" fill="{colour}">{words}</text>'
    )
