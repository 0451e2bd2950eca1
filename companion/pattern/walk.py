"""Walks the document in paint order and lists what is painted.

Groups, use, symbol, nested svg, switch and clip paths are resolved here; geometry
is left in the shapes' own units with the map to page px beside it. Elements that
cannot become wood (text, images, masks ...) are named, once each.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import reduce

from companion.errors import PatternError
from companion.pattern.clipping import Clipper
from companion.pattern.gradient import gradient_effect
from companion.pattern.lengths import Viewport, split_length, user_length
from companion.pattern.limits import Limits
from companion.pattern.matrix import (
    IDENTITY,
    multiply,
    parse_transform,
    parse_viewbox,
    place_viewbox,
)
from companion.pattern.page import Page, page_of
from companion.pattern.paint import BLACK, NO_PAINT, Effect, effect_of, parse_paint
from companion.pattern.painted import BLACK_TINT, Clip, ClipPart, Notice, Painted, Stroke, Tint
from companion.pattern.quote import quoted
from companion.pattern.shapes import rect_outline
from companion.pattern.source import SHAPES, Context, Source, apply_to_point, shape_value
from companion.pattern.style import ROOT_STYLE, Style, style_of
from companion.pattern.tree import Document, Node
from companion.pattern.watchdog import check
from companion.sentence import Sentence, sentence

GROUPS = {"g", "a"}
SERVERS = {"linearGradient", "radialGradient", "pattern"}
UNREAD = {
    "text": (
        "text-not-read",
        sentence("Text"),
        "Convert it to outlines (paths) in a drawing program.",
    ),
    "flowRoot": (
        "text-not-read",
        sentence("Text"),
        "Convert it to outlines (paths) in a drawing program.",
    ),
    "image": (
        "image-not-read",
        sentence("A picture made of dots"),
        "Trace it to outlines, then remove it.",
    ),
    "foreignObject": ("foreign-not-read", sentence("Foreign content"), "Redraw it as paths."),
}
LANGUAGE = "en"
SOLID = 0.98
"""Opacity from which paint hides what lies below it."""


@dataclass(frozen=True, slots=True)
class Walked:
    """All that was found."""

    page: Page
    """The outermost viewport."""
    painted: tuple[Painted, ...]
    """In paint order."""
    notices: tuple[Notice, ...]
    """What could not be read."""


class Walker:
    """One walk through one document."""

    def __init__(self, document: Document, name: str, limits: Limits) -> None:
        self.source = Source(document, name, limits)
        self.document = document
        self.name = name
        self.limits = limits
        self.sheet = self.source.sheet
        self.painted: list[Painted] = []
        self.shapes = 0
        self.visits = 0
        self.groups = 0
        self.clipper = Clipper(self.source)

    def run(self) -> Walked:
        """Walk from the root."""
        root = self.document.root
        style = style_of(root, ROOT_STYLE, self.sheet)
        page = page_of(
            root, shape_value(root, style, "width"), shape_value(root, style, "height"), self.name
        )
        clips: tuple[Clip, ...] = ()
        if page.width_px is not None and page.height_px is not None:
            edge = rect_outline(0.0, 0.0, page.width_px, page.height_px, 0.0, 0.0)
            clips = (Clip((ClipPart(edge, False, ()),), (), is_page=True),)
        if style["overflow"] == "visible":
            clips = ()
        self._note_document(page)
        matrix = page.to_px
        if style["transform"]:
            matrix = multiply(parse_transform(style["transform"]) or IDENTITY, matrix)
        context = Context(style, matrix, page.inner, 1.0, clips, 0, ())
        if style["display"] != "none" and style.fraction("opacity") > 0.0:
            self._children(root, replace(context, opacity=style.fraction("opacity")))
        return Walked(page, tuple(self.painted), tuple(self.source.notices))

    def _note_document(self, page: Page) -> None:
        if not self.document.in_svg_namespace:
            self.source.note(
                "namespace-missing",
                "note",
                "The drawing does not name the SVG name space; it was read as SVG all the same.",
                "",
            )
        if page.odd_viewbox:
            text = sentence(
                "The viewBox '{odd_viewbox}' is in error and was ignored.",
                odd_viewbox=page.odd_viewbox,
            )
            self.source.note(
                "viewbox-ignored", "warn", text, "Save it again from a drawing program."
            )
        if self.document.skipped_entities:
            names = quoted(", ".join(sorted(set(self.document.skipped_entities))[:5]), 200)
            text = sentence(
                "References to things outside the drawing were not followed: {names}.", names=names
            )
            self.source.note("external-not-opened", "note", text, "")
        if self.sheet.skipped:
            # not joined as text: some of them are sentences to be translated
            parts = [
                p if isinstance(p, Sentence) else quoted(p, 50)
                for p in dict.fromkeys(self.sheet.skipped[:5])
            ]
            names = reduce(lambda a, b: sentence("{a}; {b}", a=a, b=b), parts)
            text = sentence("Style rules beyond this reader were left out: {names}.", names=names)
            self.source.note("style-not-read", "note", text, "Check that nothing looks different.")

    def _children(self, node: Node, context: Context) -> None:
        for child in node.children:
            self._element(child, context)

    def _element(self, node: Node, context: Context) -> None:
        tag = node.tag
        if tag not in SHAPES and tag not in GROUPS and tag not in UNREAD:
            if tag not in ("svg", "use", "switch"):
                return
        check()
        self.visits += 1
        if self.visits > self.limits.elements:
            raise self.source.too_many(sentence("elements"), self.limits.elements)
        if not _conditions_hold(node):
            return
        style = style_of(node, context.style, self.sheet)
        opacity = context.opacity * style.fraction("opacity")
        if style["display"] == "none" or opacity < self.limits.faint_alpha:
            return
        if context.depth >= self.limits.depth:
            raise PatternError(
                "the drawing is nested too deep",
                sentence(
                    "{name}: more than {depth} levels at {label}",
                    name=self.name,
                    depth=self.limits.depth,
                    label=node.label,
                ),
                "Ungroup everything in a drawing program and save again.",
            )
        matrix = context.matrix
        if style["transform"] and tag != "svg":
            moved = parse_transform(style["transform"])
            if moved is None:
                text = sentence(
                    "The transform of {label} is in error and was ignored.", label=node.label
                )
                self.source.note("transform-ignored", "warn", text, "Save it again as plain SVG.")
            else:
                matrix = multiply(matrix, moved)
        inner = replace(
            context, style=style, matrix=matrix, opacity=opacity, depth=context.depth + 1
        )
        if opacity < context.opacity and not context.group:
            self.groups += 1
            inner = replace(inner, group=self.groups, group_opacity=opacity)
        inner = self.clipper.for_element(node, style, inner)
        self._effects(node, style)
        self._draw(node, inner)

    def _draw(self, node: Node, context: Context) -> None:
        tag = node.tag
        if tag in SHAPES:
            self._shape(node, context)
        elif tag in GROUPS:
            self._children(node, context)
        elif tag == "svg":
            self._nested(node, context, node.get("width"), node.get("height"))
        elif tag == "use":
            self._use(node, context)
        elif tag == "switch":
            chosen = next(
                (c for c in node.children if not c.tag.startswith("{") and _conditions_hold(c)),
                None,
            )
            if chosen is not None:
                self._element(chosen, context)
        elif context.style["visibility"] == "visible":
            code, what, remedy = UNREAD[tag]
            if tag == "text" and not _has_text(node):
                return
            x = user_length(node.get("x").split(",")[0], context.viewport, "x") or 0.0
            y = user_length(node.get("y").split(",")[0], context.viewport, "y") or 0.0
            at = apply_to_point(context.matrix, x, y)
            self.source.note(
                code,
                "warn",
                sentence("{what} was left out: {label}.", what=what, label=node.label),
                remedy,
                at,
            )

    def _effects(self, node: Node, style: Style) -> None:
        for name in ("mask", "filter"):
            if style[name] not in ("none", ""):
                text = sentence(
                    "The {name} of {label} is not read; the shape is taken without it.",
                    name=name,
                    label=node.label,
                )
                remedy = sentence(
                    "Expand the {name} to plain shapes in a drawing program.", name=name
                )
                self.source.note(f"{name}-not-read", "warn", text, remedy)
        if style["mix-blend-mode"] not in ("normal", ""):
            text = sentence(
                "The blending of {label} is not read; it was painted plainly.", label=node.label
            )
            self.source.note("blend-not-read", "warn", text, "Give it a plain fill.")

    # -- shapes ---------------------------------------------------------------

    def _shape(self, node: Node, context: Context) -> None:
        style = context.style
        if style["visibility"] != "visible":
            return
        fill = self._effect("fill", node, context)
        stroke = self._stroke(node, context)
        if fill is Effect.NOTHING and stroke is None:
            return
        count = len(self.source.notices)
        outline = self.source.outline(node, style, context.viewport)
        for i in range(count, len(self.source.notices)):
            notice = self.source.notices[i]
            if notice.at_px is not None:
                moved = apply_to_point(context.matrix, *notice.at_px)
                self.source.notices[i] = replace(notice, at_px=moved)
        if not len(outline.segments):
            return
        if outline.only_strokes:
            # Every line has the black fill of SVG's default; it is no filled shape.
            fill = Effect.NOTHING
            if stroke is None:
                return
        if any(style[f"marker-{end}"] != "none" for end in ("start", "mid", "end")):
            text = sentence("The markers of {label} are not read.", label=node.label)
            self.source.note("marker-not-read", "note", text, "Convert the markers to paths.")
        self.shapes += 1
        if self.shapes > self.limits.drawn_shapes:
            raise self.source.too_many(sentence("shapes"), self.limits.drawn_shapes)
        clips = self.clipper.for_shape(node, outline, context)
        order = style["paint-order"].split()
        first = "stroke" in order and order.index("stroke") < (
            order.index("fill") if "fill" in order else 9
        )
        even_odd = style["fill-rule"] == "evenodd"
        tint = self._tint(context)
        solid = tint[3] >= SOLID * context.group_opacity
        painted = Painted(outline, context.matrix, fill, even_odd, stroke, first, clips, node.label)
        self.painted.append(replace(painted, tint=tint, group=context.group, solid=solid))

    def _tint(self, context: Context) -> Tint:
        """Colour and opacity of the fill; black for gradients, judged by their stops."""
        style = context.style
        paint = parse_paint(style["fill"], style["color"]) or NO_PAINT
        opacity = context.opacity * style.fraction("fill-opacity")
        r, g, b, alpha = paint.rgba if paint.kind == "colour" else BLACK_TINT
        return (r, g, b, alpha * opacity)

    def _effect(self, name: str, node: Node, context: Context) -> Effect:
        style = context.style
        paint = parse_paint(style[name], style["color"]) or NO_PAINT
        opacity = context.opacity * style.fraction(f"{name}-opacity")
        if paint.kind != "server":
            return effect_of(paint, opacity, self.limits)
        target = self.document.by_id.get(paint.url)
        if target is None or target.tag not in SERVERS:
            text = sentence(
                "The {name} of {label} names '{url}', which is not there.",
                name=name,
                label=node.label,
                url=quoted(paint.url),
            )
            self.source.note("paint-missing", "warn", text, "Give the shape a plain colour.")
            return effect_of(paint.spare, opacity, self.limits)
        if target.tag != "pattern":
            effect = gradient_effect(self.source, target, opacity)
            if effect is Effect.NOTHING:
                text = sentence(
                    "The {name} of {label} fades from paper colour to clear; what lies below it "
                    "was kept.",
                    name=name,
                    label=node.label,
                )
                self.source.note("gradient-left-out", "note", text, "Give it a plain fill.")
            if effect is not Effect.INK:
                return effect
        what = "pattern" if target.tag == "pattern" else "gradient"
        told = (
            "The {name} of {label} is a pattern; it was taken as ink all over."
            if what == "pattern"
            else "The {name} of {label} is a gradient; it was taken as ink all over."
        )
        text = sentence(told, name=name, label=node.label)
        remedy = "Give it a plain fill if some of it is not wood."
        self.source.note(f"{what}-as-ink", "note", text, remedy)
        return effect_of(BLACK, opacity, self.limits)

    def _stroke(self, node: Node, context: Context) -> Stroke | None:
        style = context.style
        if style["stroke"] == "none":
            return None
        effect = self._effect("stroke", node, context)
        width = style.length("stroke-width", context.viewport)
        if effect in (Effect.NOTHING, Effect.VEIL) or not width > 0.0:
            return None
        join = style["stroke-linejoin"]
        join = "miter" if join in ("miter-clip", "arcs") else join
        return Stroke(
            effect,
            width,
            style["stroke-linecap"],
            join,
            float(style["stroke-miterlimit"].strip("% ")),
            _dashes(style, context.viewport),
            style.length("stroke-dashoffset", context.viewport),
            style["vector-effect"] == "non-scaling-stroke",
        )

    # -- references -----------------------------------------------------------

    def _use(self, node: Node, context: Context) -> None:
        href = node.get("href").strip()
        if not href.startswith("#"):
            if href:
                text = sentence(
                    "{label} points outside the drawing ('{href}'); not opened.",
                    label=node.label,
                    href=quoted(href),
                )
                self.source.note(
                    "external-not-opened", "warn", text, "Paste the shape into the drawing."
                )
            return
        target = self.document.by_id.get(href[1:])
        if target is None:
            text = sentence(
                "{label} points to '{href}', which is not there.",
                label=node.label,
                href=quoted(href),
            )
            self.source.note("use-missing", "warn", text, "Paste the shape in place.")
            return
        if id(target) in context.trail or _is_above(target, node):
            text = sentence(
                "{label} points back to itself; that round was left out.", label=node.label
            )
            self.source.note("use-circular", "warn", text, "")
            return
        x = user_length(shape_value(node, context.style, "x"), context.viewport, "x") or 0.0
        y = user_length(shape_value(node, context.style, "y"), context.viewport, "y") or 0.0
        inner = replace(
            context,
            matrix=multiply(context.matrix, (1.0, 0.0, 0.0, 1.0, x, y)),
            trail=(*context.trail, id(target)),
        )
        if target.tag in ("symbol", "svg"):
            self._use_viewport(node, target, inner)
        else:
            self._element(target, inner)

    def _use_viewport(self, node: Node, target: Node, context: Context) -> None:
        style = style_of(target, context.style, self.sheet)
        opacity = context.opacity * style.fraction("opacity")
        if style["display"] == "none" or opacity < self.limits.faint_alpha:
            return
        matrix = context.matrix
        if style["transform"]:
            matrix = multiply(matrix, parse_transform(style["transform"]) or IDENTITY)
        inner = replace(
            context, style=style, opacity=opacity, matrix=matrix, depth=context.depth + 1
        )
        if inner.depth >= self.limits.depth:
            return
        width = node.get("width") or target.get("width")
        height = node.get("height") or target.get("height")
        self._nested(target, inner, width, height)

    def _nested(self, node: Node, context: Context, width: str, height: str) -> None:
        outer = context.viewport
        x = user_length(node.get("x"), outer, "x") or 0.0 if node.tag == "svg" else 0.0
        y = user_length(node.get("y"), outer, "y") or 0.0 if node.tag == "svg" else 0.0
        w = user_length(width, outer, "x", context.style.font_px)
        h = user_length(height, outer, "y", context.style.font_px)
        w = outer.width if w is None else w
        h = outer.height if h is None else h
        if w <= 0.0 or h <= 0.0:
            return
        box = parse_viewbox(node.get("viewBox")) if node.get("viewBox").strip() else None
        clips = context.clips
        if context.style["overflow"] not in ("visible", "auto"):
            edge = rect_outline(x, y, w, h, 0.0, 0.0).moved(context.matrix)
            clips = (*clips, Clip((ClipPart(edge, False, ()),), ()))
        if box is not None and box[2] >= 0.0 and box[3] >= 0.0:
            if box[2] == 0.0 or box[3] == 0.0:
                return
            aspect = node.get("preserveAspectRatio", "xMidYMid")
            place = place_viewbox(box, (x, y, w, h), aspect)
            viewport = Viewport(box[2], box[3])
        else:
            place, viewport = (1.0, 0.0, 0.0, 1.0, x, y), Viewport(w, h)
        matrix = multiply(context.matrix, place)
        self._children(node, replace(context, matrix=matrix, viewport=viewport, clips=clips))


def _conditions_hold(node: Node) -> bool:
    """Conditions requiredExtensions and systemLanguage (SVG 2 chapter 5); none is known."""
    if "requiredExtensions" in node.attributes:
        return False
    languages = node.attributes.get("systemLanguage")
    if languages is None:
        return True
    wanted = [part.strip().lower() for part in languages.split(",")]
    return any(w == LANGUAGE or w.startswith(LANGUAGE + "-") for w in wanted)


def _has_text(node: Node) -> bool:
    return bool("".join(node.text).strip()) or any(_has_text(c) for c in node.children)


def _is_above(target: Node, node: Node) -> bool:
    above: Node | None = node
    while above is not None:
        if above is target:
            return True
        above = above.parent
    return False


def _dashes(style: Style, viewport: Viewport) -> tuple[float, ...]:
    """stroke-dasharray; odd lists doubled, none when invalid or all zero (SVG 2 chapter 13)."""
    text = style["stroke-dasharray"]
    if text in ("none", ""):
        return ()
    values: list[float] = []
    for part in text.replace(",", " ").split()[:1000]:
        if split_length(part) is None:
            return ()
        values.append(user_length(part, viewport, "other", style.font_px) or 0.0)
    if not values or min(values) < 0.0 or sum(values) <= 0.0:
        return ()
    return tuple(values * 2 if len(values) % 2 else values)
