"""What a gradient does to the wood: judged by its stops.

Where any stop is ink the whole is taken as ink; a gradient of paper colours alone
takes away; one that only fades between paper and nothing is not ink.
"""

from __future__ import annotations

from companion.pattern.paint import Effect, Paint, effect_of, parse_colour
from companion.pattern.source import Source
from companion.pattern.style import ROOT_STYLE, style_of
from companion.pattern.tree import Node

MOST_LINKS = 16


def stops_of(source: Source, gradient: Node) -> list[Node]:
    """The stops, looked up along href when it has none itself (SVG 2 chapter 14)."""
    for _ in range(MOST_LINKS):
        stops = [child for child in gradient.children if child.tag == "stop"]
        linked = source.document.by_id.get(gradient.get("href").strip().lstrip("#"))
        if stops or linked is None:
            return stops
        gradient = linked
    return []


def gradient_effect(source: Source, gradient: Node, opacity: float) -> Effect:
    """Ink, paper or nothing.

    Args:
        source: the document.
        gradient: linearGradient or radialGradient.
        opacity: of the fill or stroke, groups included.
    """
    effects = set()
    for stop in stops_of(source, gradient):
        style = style_of(stop, ROOT_STYLE, source.sheet)
        rgba = parse_colour(style["stop-color"], style["color"]) or (0.0, 0.0, 0.0, 1.0)
        paint = Paint("colour", rgba)
        effects.add(effect_of(paint, opacity * style.fraction("stop-opacity"), source.limits))
    if Effect.INK in effects:
        return Effect.INK
    return Effect.PAPER if effects == {Effect.PAPER} else Effect.NOTHING
