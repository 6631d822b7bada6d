"""Walks the tree in painting order and lists what is painted, what clips it, and what had to be left out."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

import inlayfit.read.svg_facts as facts  # `from` would name the package, which reads with this module
from inlayfit.errors import DrawingError
from inlayfit.read.flatten import box_of
from inlayfit.read.outline import Outline
from inlayfit.read.svg_context import Context, layer_of, measured, parse_viewbox, whole
from inlayfit.read.svg_lengths import parse_px
from inlayfit.read.svg_look import Looks, rule_of, shows
from inlayfit.read.svg_marker import marker_contexts
from inlayfit.read.svg_notes import Notes
from inlayfit.read.svg_paint import Paint, style_of
from inlayfit.read.svg_scene import Clip, Painted, Source, Stroke, box_clip
from inlayfit.read.svg_shapes import SHAPES, outline_of
from inlayfit.read.svg_style import INHERITED, Style, Styles, computed, font_of, number, reference
from inlayfit.read.svg_transform import IDENTITY, Matrix, fit_viewbox, multiply, parse_transform, translation
from inlayfit.read.svg_tree import Node, Tree
from inlayfit.read.sweep import Rule

if TYPE_CHECKING:
    from inlayfit.read.fonts import Font

MOST_COPIES = 20_000
"""Elements drawn by way of `use` and markers: a chain of them can ask for billions."""

DEEPEST = 512
"""Levels of groups and copies."""

_EFFECTS = frozenset({"transform", "opacity", "filter", "clip-path", "mask"})
_PLAIN = Paint(colour="", alpha=1.0)

_Job = tuple[Node, Context] | Painted


class Walker:
    """Lists what is painted below a node. One walker reads one drawing."""

    def __init__(self, tree: Tree, notes: Notes, fonts: Sequence[Font] = ()) -> None:
        self._by_id = tree.by_id
        self._fonts = fonts
        self._notes = notes
        self._looks = Looks(tree.by_id, notes)
        self._styles = Styles()
        self._copied = 0
        self._counts: Counter[str] = Counter()
        self._shapes = 0
        self._active: list[Node] = []
        self._clip_cache: dict[tuple[object, ...], tuple[Clip, ...] | None] = {}

    def painted(self, jobs: Iterable[tuple[Node, Context]]) -> list[Painted]:
        """Return all that the nodes paint, lowest first."""
        waiting: list[_Job] = []
        waiting.extend(jobs)
        waiting.reverse()
        result: list[Painted] = []
        while waiting:
            job = waiting.pop()
            if isinstance(job, Painted):
                result.append(job)
                continue
            node, context = job
            self._copied += bool(context.trail)
            if self._copied > MOST_COPIES or context.depth > DEEPEST:
                raise DrawingError(
                    f"copies within copies: over {MOST_COPIES:,} elements or {DEEPEST} levels",
                    where=node.label,
                    remedy="ungroup, or turn the copies (use) into paths",
                )
            waiting.extend(reversed(self._expand(node, context)))
        return result

    def root(self, node: Node, style: Style, context: Context) -> list[Painted]:
        """Return all that the drawing paints; `context` holds the page."""
        if style.get("display") == "none":
            return []
        inner = self._inner(node, style, context)
        return [] if inner is None else self.below(node, inner)

    def below(self, node: Node, context: Context) -> list[Painted]:
        """Return all that the children of a node paint."""
        return self.painted((child, context) for child in node.children)

    def _expand(self, node: Node, context: Context) -> list[_Job]:  # noqa: PLR0911  # one way out for each kind
        """Return what takes the place of a node: its children, its copy or its paint."""
        tag = node.tag
        if tag in facts.LEFT_OUT and context.mode == "paint":
            self._notes.add("left-out", node.label, *facts.LEFT_OUT[tag])
        if tag not in SHAPES and tag not in facts.GROUPS and tag not in {"svg", "use", "text"}:
            return []
        if context.mode == "clip" and tag not in facts.CLIPPING:
            self._notes.add("left-out", node.label, *facts.NO_CLIP)
            return []
        inherited, style = self._styles.computed(node, context.inherited)
        if style.get("display") == "none" or not facts.is_wanted(node):
            return []
        inner = self._inner(node, style, context)
        if inner is None:
            return []
        if tag in SHAPES:
            return self._shape(node, style, inner)
        layer = layer_of(node, inner.layer) if tag in facts.GROUPS else inner.layer
        inner = inner._replace(inherited=inherited, depth=context.depth + 1, layer=layer)
        if tag == "use":
            return self._copy(node, style, inner)
        if tag == "svg":
            return self._viewport(node, style, inner, (None, None))
        if tag == "text":
            return self._text(node, style, inner)
        children = [
            child for child in node.children if tag != "switch" or (facts.is_drawn(child) and facts.is_wanted(child))
        ]
        return [(child, inner) for child in (children[:1] if tag == "switch" else children)]

    def _inner(self, node: Node, style: Style, context: Context) -> Context | None:
        """Return the context inside an element: its transform, opacity and clips; None where nothing is seen."""
        if style.keys().isdisjoint(_EFFECTS):
            return context
        matrix, opacity = multiply(context.matrix, self._transform(node, style, context)), 1.0
        if context.mode == "paint":
            opacity = number(style, "opacity", 1.0)
            if opacity <= 0:
                return None
            if style.get("filter", "none") != "none":
                self._notes.add("left-out", node.label, "its filter is not applied; the shape is taken as drawn")
        context = context._replace(matrix=matrix, opacity=context.opacity * min(opacity, 1.0))
        if context.mode == "box":
            return context
        for name in ("clip-path", "mask"):
            value = style.get(name, "none")
            if value != "none" and (name == "clip-path" or context.mode == "paint"):
                clips = self._clips(name, value, node, context)
                if clips is None:
                    return None
                context = context._replace(clips=context.clips + clips)
        return context

    def _transform(self, node: Node, style: Style, context: Context) -> Matrix:
        text = style.get("transform")
        if not text:
            return IDENTITY

        def length(value: str, direction: str) -> float:
            return parse_px(value, font=font_of(style), whole=whole(context, direction))

        try:
            matrix = parse_transform(text, length)
        except ValueError:
            self._notes.add("repaired", node.label, "its transform is not understood and not applied", "correct it")
            return IDENTITY
        origin = style.get("transform-origin")
        if not origin and style.get("transform-box", "view-box") == "view-box":
            return matrix
        x, y = self._origin(node, style, context, origin or "0 0")
        return multiply(multiply(translation(x, y), matrix), translation(-x, -y))

    def _origin(self, node: Node, style: Style, context: Context, text: str) -> tuple[float, float]:
        """Return transform-origin in user units (CSS Transforms 1, sections 8 and 9)."""
        left, top, (across, down) = 0.0, 0.0, context.viewport
        if style.get("transform-box", "view-box") in {"fill-box", "content-box", "stroke-box", "border-box"}:
            left, top, across, down = self.local_box(node, context) or (0.0, 0.0, 0.0, 0.0)
        words = text.split()
        if words[0] in {"top", "bottom"} or (len(words) > 1 and words[1] in {"left", "right"}):
            words[:2] = [words[1] if len(words) > 1 else "center", words[0]]
        part = {"left": "0%", "top": "0%", "center": "50%", "right": "100%", "bottom": "100%"}
        first, second = words[0], words[1] if len(words) > 1 else "center"
        try:
            x = parse_px(part.get(first, first), font=font_of(style), whole=across)
            y = parse_px(part.get(second, second), font=font_of(style), whole=down)
        except ValueError:
            return 0.0, 0.0
        return left + x, top + y

    def _viewport(
        self, node: Node, style: Style, context: Context, asked: tuple[float | None, float | None]
    ) -> list[_Job]:
        """Return the children of a nested svg or of a symbol, in its viewport."""
        own = [measured(node, style, context, name, way) for name, way in (("width", "x"), ("height", "y"))]
        width = next((size for size in (asked[0], own[0]) if size is not None), context.viewport[0])
        height = next((size for size in (asked[1], own[1]) if size is not None), context.viewport[1])
        if width <= 0 or height <= 0:
            return []
        matrix = context.matrix
        x, y = measured(node, style, context, "x", "x") or 0.0, measured(node, style, context, "y", "y") or 0.0
        if node.tag == "svg":
            matrix = multiply(matrix, translation(x, y))
        clips = context.clips
        if context.mode != "box" and style.get("overflow", "hidden") not in {"visible", "auto"}:
            clips = (*clips, box_clip((0.0, 0.0, width, height), matrix))
        box = parse_viewbox(node.attrs.get("viewBox", ""))
        if box is not None:
            matrix = multiply(matrix, fit_viewbox(box, width, height, node.attrs.get("preserveAspectRatio", "")))
        inner = context._replace(matrix=matrix, clips=clips, viewport=box[2:] if box else (width, height))
        return [(child, inner) for child in node.children]

    def _copy(self, node: Node, style: Style, context: Context) -> list[_Job]:
        """Return what a use refers to."""
        link = node.attrs.get("href", "")
        target = self._by_id.get(link.removeprefix("#")) if link.startswith("#") else None
        if target is None:
            self._notes.add("left-out", node.label, f"it copies {link or 'nothing'}, which is not in this file")
            return []
        if target in context.trail or target is node or facts.is_within(node, target):
            self._notes.add("left-out", node.label, f"it copies itself by way of {link}", "draw it out")
            return []
        x, y = measured(node, style, context, "x", "x") or 0.0, measured(node, style, context, "y", "y") or 0.0
        inner = context._replace(
            matrix=multiply(context.matrix, translation(x, y)),
            trail=(*context.trail, target),
            name=context.name or node.attrs.get("id", ""),
        )
        if context.mode == "clip" and target.tag not in facts.CLIPPING:
            self._notes.add("left-out", node.label, *facts.NO_CLIP)
            return []
        if target.tag not in {"symbol", "svg"}:
            return [(target, inner)]
        inherited, shown = computed(target, context.inherited)
        entered = None
        if shown.get("display") != "none":
            entered = self._inner(target, shown, inner._replace(inherited=inherited, depth=inner.depth + 1))
        if entered is None:
            return []
        asked = (measured(node, style, context, "width", "x"), measured(node, style, context, "height", "y"))
        return self._viewport(target, shown, entered, asked)

    def _text(self, node: Node, style: Style, context: Context) -> list[_Job]:
        """Return the letters of a text where there are fonts to draw them with; else name it."""
        words = " ".join(node.text.split())
        if not self._fonts:
            if words and context.mode != "box" and style.get("visibility", "visible") == "visible":
                remedy = "convert it to paths, or name the file of its font with --font"
                self._notes.add("left-out", node.label, f'the text "{words}" is not read', remedy)
            return []
        from inlayfit.read.svg_text import text_runs  # noqa: PLC0415  # fonttools: only who names a font pays for it

        named = context._replace(name=context.name or node.attrs.get("id") or words)
        runs = text_runs(node, style, context, self._fonts, self._notes, self._by_id)
        return [job for run in runs for job in self._drawn(run.node, run.style, run.outline, named)]

    def _shape(self, node: Node, style: Style, context: Context) -> list[_Job]:
        """Return the fill, the stroke and the markers of a shape in painting order."""
        outline = self._outline(node, style, context)
        if context.mode == "paint":
            self._counts[node.tag] += 1
            self._shapes += 1
            facts.remark_shape(node, style, self._notes)
        return self._drawn(node, style, outline, context)

    def _drawn(self, node: Node, style: Style, outline: Outline, context: Context) -> list[_Job]:
        if outline.is_empty or (style.get("visibility", "visible") != "visible" and context.mode != "box"):
            return []
        source = self._source(node, context)
        if context.mode != "paint":
            facts.check_range(node, outline, context.matrix, 0.0)
            return [self._paint(source, outline, context, _PLAIN, rule_of(style, "clip-rule"), None)]
        look = self._looks.of(node, style, context)
        facts.check_range(node, outline, context.matrix, look.stroke.width if look.line is not None else 0.0)
        jobs: dict[str, list[_Job]] = {}
        if shows(look.fill, outline) and not outline.is_one_line:
            jobs["fill"] = [self._paint(source, outline, context, look.fill, look.rule, None)]
        if look.stroke.width > 0 and shows(look.line, outline):
            jobs["stroke"] = [self._paint(source, outline, context, look.line, "nonzero", look.stroke)]
        if look.is_marked and node.tag in SHAPES:
            fill, line = (paint if shows(paint, outline) else None for paint in (look.fill, look.line))
            contexts = marker_contexts(node, style, outline, context, look.stroke.width, (fill, line), self._by_id)
            jobs["markers"] = list(contexts)
        found = [job for part in look.order if part in jobs for job in jobs[part]]
        if not found and node.tag in SHAPES:
            facts.remark_unpainted(node, outline, self._notes)
        return found

    def _outline(self, node: Node, style: Style, context: Context) -> Outline:
        data = facts.data_of(node, style)
        outline, sound = outline_of(node.tag, data, lambda name, way: measured(node, style, context, name, way))
        if not sound:
            self._notes.add("repaired", node.label, "its data is damaged, read up to the fault", "correct it")
        return outline

    def _source(self, node: Node, context: Context) -> Source:
        name = context.name or node.attrs.get("id") or facts.title_of(node) or f"{node.tag} {self._counts[node.tag]}"
        return Source(element=node.label, name=name, layer=context.layer[1], serial=self._shapes)

    def _paint(
        self, source: Source, outline: Outline, context: Context, paint: Paint, rule: Rule, stroke: Stroke | None
    ) -> Painted:
        alpha = paint.alpha * context.opacity
        if context.mode == "paint" and alpha < 1 and not self._active:
            self._notes.add("assumed", source.element, "half transparent paint is taken as solid")
        return Painted(
            outline=outline,
            matrix=context.matrix,
            rule=rule,
            stroke=stroke,
            colour=paint.colour,
            light=facts.luminance(paint.colour) * alpha,
            clips=context.clips,
            source=source,
        )

    def local_box(self, node: Node, context: Context) -> tuple[float, float, float, float] | None:
        """Return x, y, width, height of an element without its stroke in its own user space (SVG 2, 8.10)."""
        inner = context._replace(matrix=IDENTITY, mode="box", clips=())
        if node.tag in SHAPES:
            _, style = computed(node, context.inherited)
            parts: Sequence[_Job] = self._shape(node, style, inner)
        elif node.tag == "text":
            parts = self._text(node, computed(node, context.inherited)[1], inner)
        elif node.tag == "use":
            _, style = computed(node, context.inherited)
            parts = self.painted(job for job in self._copy(node, style, inner) if not isinstance(job, Painted))
        else:
            parts = self.below(node, inner)
        drawn = [(part.outline, part.matrix) for part in parts if isinstance(part, Painted)]
        return box_of(drawn) if drawn else None

    def _clips(self, name: str, value: str, node: Node, context: Context) -> tuple[Clip, ...] | None:
        """Return the clips that a clip-path or a mask adds, or None where nothing can remain."""
        target = self._by_id.get(reference(value) or "")
        if target is None or target.tag != {"clip-path": "clipPath", "mask": "mask"}[name]:
            if not value.startswith("url("):
                self._notes.add("left-out", node.label, f"its {name} {value!r} is not applied", "draw it as a clipPath")
            return ()
        if target in self._active:
            self._notes.add("left-out", node.label, f"its {name} refers to itself by way of {target.label}")
            return None
        units = target.attrs.get("clipPathUnits" if name == "clip-path" else "maskUnits", "")
        content = target.attrs.get("maskContentUnits", "")
        boxed = "objectBoundingBox" in {units, content} or (name == "mask" and units != "userSpaceOnUse")
        box = self.local_box(node, context) if boxed else None
        key = (target, context.matrix, box, context.viewport)
        if key not in self._clip_cache:
            self._active.append(target)
            try:
                make = self._clip_path if name == "clip-path" else self._mask
                self._clip_cache[key] = make(target, context, box)
            finally:
                self._active.pop()
        return self._clip_cache[key]

    def _entered(self, target: Node, context: Context, matrix: Matrix, mode: str) -> Context | None:
        """Return the context inside a clipPath or mask, which inherits from where it stands."""
        own = style_of(target)
        inherited = {name: value for name, value in own.items() if name in INHERITED or name.startswith("--")}
        inner = Context(
            matrix=context.matrix,
            inherited=inherited,
            viewport=context.viewport,
            mode="clip" if mode == "clip" else "paint",
            depth=context.depth + 1,
        )
        entered = self._inner(target, {key: own[key] for key in ("clip-path", "mask") if key in own}, inner)
        return None if entered is None else entered._replace(matrix=matrix)

    def _clip_path(
        self, target: Node, context: Context, box: tuple[float, float, float, float] | None
    ) -> tuple[Clip, ...] | None:
        matrix = context.matrix
        if target.attrs.get("clipPathUnits") == "objectBoundingBox":
            if box is None:
                return None
            matrix = multiply(matrix, (box[2], 0.0, 0.0, box[3], box[0], box[1]))
        own = style_of(target)
        matrix = multiply(matrix, self._transform(target, own, context))
        inner = self._entered(target, context, matrix, "clip")
        if inner is None:
            return None
        shapes = self.below(target, inner._replace(clips=()))
        return (*inner.clips, Clip(kind="clip", shapes=tuple(shapes))) if shapes else None

    def _mask(
        self, target: Node, context: Context, box: tuple[float, float, float, float] | None
    ) -> tuple[Clip, ...] | None:
        matrix = context.matrix
        boxed = target.attrs.get("maskUnits") != "userSpaceOnUse"
        if box is None and (boxed or target.attrs.get("maskContentUnits") == "objectBoundingBox"):
            return None
        edge = facts.mask_edge(target, context, box if boxed else None)
        frame = matrix if not boxed or box is None else multiply(matrix, (box[2], 0.0, 0.0, box[3], box[0], box[1]))
        if target.attrs.get("maskContentUnits") == "objectBoundingBox" and box is not None:
            matrix = multiply(matrix, (box[2], 0.0, 0.0, box[3], box[0], box[1]))
        inner = self._entered(target, context, matrix, "paint")
        if inner is None or edge[2] <= 0 or edge[3] <= 0:
            return None
        shapes = self.below(target, inner._replace(clips=()))
        if style_of(target).get("mask-type") == "alpha":
            shapes = [shape._replace(light=1.0) for shape in shapes]
        if any(0.01 < shape.light < 0.99 for shape in shapes):
            self._notes.add("assumed", target.label, "a mask with greys: what is not black is taken as visible")
        return (*inner.clips, box_clip(edge, frame), Clip(kind="mask", shapes=tuple(shapes))) if shapes else None
