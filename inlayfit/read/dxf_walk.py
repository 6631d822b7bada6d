"""From a DXF document to a flat list of entities: blocks unfolded, layers and colours inherited, hidden ones left out.

Every entity of model space is either *placed*, with the matrix from its own coordinates to the world, or counted
under the reason why it was left out.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import PurePath
from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np
from ezdxf import colors
from ezdxf.lldxf.const import DXFError
from numpy.typing import NDArray

from inlayfit.errors import DrawingError
from inlayfit.read.dxf_clip import Clip, clip_of
from inlayfit.read.dxf_load import MOST_ENTITIES, too_many

if TYPE_CHECKING:
    from ezdxf.document import Drawing as Document
    from ezdxf.entities import DXFGraphic, Insert

    from inlayfit.read.fonts import Font

Matrix = NDArray[np.float64]
Entity: TypeAlias = Any
"""An entity of ezdxf, or a part of one: its attributes come from tables while the file is read; no type knows them."""

PLANAR = frozenset(
    "LINE ARC CIRCLE ELLIPSE SPLINE LWPOLYLINE POLYLINE HATCH MPOLYGON SOLID TRACE MLINE".split()  # noqa: SIM905
)
"""Entities that can enclose an area."""

TEXTS = frozenset({"TEXT", "MTEXT"})
"""Entities that are drawn where the maker names fonts."""

_BYBLOCK, _BYLAYER = 0, 256
_BLACK = "#000000"  # ACI 7 is white on a dark screen and black on paper; regions are shown on paper


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """An entity, the 4 x 4 `matrix` (column vectors) from its world to the drawing's, and what it inherits."""

    entity: Entity
    matrix: Matrix
    layer: str
    colour: str
    element: str
    font: Font | None = None
    """What a text is drawn with."""
    clips: tuple[Clip, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Walked:
    """The placed entities in drawing order, and how many were left out, by (what, why, remedy)."""

    placed: tuple[Placed, ...]
    left_out: Counter[tuple[str, str, str]]
    assumed: Counter[tuple[str, str, str]]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Layer:
    name: str
    colour: str
    is_off: bool
    is_frozen: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class _Scope:
    """What a block hands down to the entities in it; `blocks` are the names on the way here."""

    matrix: Matrix
    layer: str | None = None
    colour: str = _BLACK
    insert: str = ""
    blocks: tuple[str, ...] = ()
    clips: tuple[Clip, ...] = ()


def walk(document: Document, fonts: Sequence[Font] = ()) -> Walked:
    """Return the entities of model space with all blocks unfolded.

    An entity on layer 0 of a block lies on the layer of its INSERT, colour BYBLOCK is the colour of the INSERT. A layer
    that is off or frozen hides its entities; an INSERT on a frozen layer hides its whole block. Blocks are unfolded
    with a stack of our own, so no depth of nesting is too deep; a block that contains itself is left out at that point.
    The order is that of drawing: a sort table (SORTENTSTABLE) changes it within a layout or a block.

    Raises:
        DrawingError: more than `MOST_ENTITIES` after unfolding.
    """
    if _unfolded(document) > MOST_ENTITIES:
        raise too_many()
    walker = _Walker(document, fonts)
    placed = tuple(walker.unfold())
    walker.skip_paper()
    return Walked(placed=placed, left_out=walker.left_out, assumed=walker.assumed)


def _unfolded(document: Document) -> int:
    """Return how many entities model space holds once all blocks are unfolded, without unfolding them.

    Blocks are counted with a stack of our own, those inside first; a block that contains itself adds nothing there.
    """
    counted: dict[str, int] = {}
    open_names: set[str] = set()
    stack: list[tuple[str, Any]] = [("", document.modelspace())]
    while stack:
        name, layout = stack[-1]
        inserts = [entity for entity in layout if entity.dxftype() == "INSERT"]
        waiting = {}
        if name not in open_names:
            open_names.add(name)
            for insert in inserts:
                inner = str(insert.dxf.get("name", "")).lower()
                block = document.blocks.get(inner)
                if block is not None and inner not in counted and inner not in open_names:
                    waiting[inner] = block
        if waiting:
            stack.extend(waiting.items())
            continue
        stack.pop()
        if name not in counted:
            copies = ((str(one.dxf.get("name", "")).lower(), max(int(one.mcount), 1)) for one in inserts)
            counted[name] = len(layout) + sum(counted.get(inner, 0) * times for inner, times in copies)
    return counted[""]


class _Walker:
    """The state of one walk: the layer table, the stack and the counts."""

    def __init__(self, document: Document, fonts: Sequence[Font]) -> None:
        self.document = document
        self.fonts = fonts
        self.layers = _layers(document)
        self.left_out: Counter[tuple[str, str, str]] = Counter()
        self.assumed: Counter[tuple[str, str, str]] = Counter()

    def unfold(self) -> Iterator[Placed]:
        stack: list[tuple[Iterator[Any], _Scope]] = [
            (_in_order(self.document.modelspace()), _Scope(matrix=np.eye(4))),
        ]
        while stack:
            entity = next(stack[-1][0], None)
            if entity is None:
                stack.pop()
                continue
            scope = stack[-1][1]
            layer = self._layer(entity, scope)
            if self._is_hidden(entity, layer):
                continue
            kind = entity.dxftype()
            if kind == "INSERT":
                stack.extend(self._enter(entity, scope, layer))
            elif kind in PLANAR or (kind in TEXTS and self.fonts):
                yield Placed(
                    entity=entity,
                    matrix=scope.matrix,
                    layer=layer.name,
                    colour=_colour(entity, layer, scope),
                    element=_element(entity, scope),
                    font=self._font(entity) if kind in TEXTS else None,
                    clips=scope.clips,
                )
            else:
                self._skip(kind, *_reason(kind))

    def skip_paper(self) -> None:
        for layout in self.document.layouts:
            if not layout.is_modelspace:
                for entity in layout:
                    if entity.dxftype() != "VIEWPORT":
                        self._skip(entity.dxftype(), f"it lies on the sheet {layout.name!r}", "move it to model space")

    def _layer(self, entity: DXFGraphic, scope: _Scope) -> _Layer:
        name = str(_attribute(entity, "layer", "0"))
        if name == "0" and scope.layer is not None:
            name = scope.layer
        return self.layers.get(name.lower()) or _Layer(name=name, colour=_BLACK, is_off=False, is_frozen=False)

    def _is_hidden(self, entity: DXFGraphic, layer: _Layer) -> bool:
        kind = entity.dxftype()
        if _attribute(entity, "invisible", 0):
            self._skip(kind, "it is set invisible", "make it visible in the drawing if it is to be cut")
            return True
        off = layer.is_off and kind != "INSERT"  # the entities in a block answer for their own layers
        if off or layer.is_frozen:
            state = "frozen" if layer.is_frozen else "off"
            self._skip(kind, f"layer {layer.name!r} is {state}", "turn the layer on in the drawing if it is to be cut")
            return True
        return False

    def _font(self, entity: Entity) -> Font:
        """Return the font for the style of a text: the file or the family that the style names, else the first."""
        from inlayfit.read.fonts import NORMAL, pick  # noqa: PLC0415  # fonttools: only who names a font pays for it

        name = str(_attribute(entity, "style", "Standard"))
        style = self.document.styles.get(name) if name in self.document.styles else None
        file = str(style.dxf.get("font", "")) if style is not None else ""
        wanted = [name for name in (PurePath(file).stem, file, name) if name]
        font, was_named = pick(self.fonts, wanted, NORMAL, italic=False)
        if not was_named:
            why = f"its font {file or name!r} is none of those given; {font.name} is taken in its place"
            self.assumed[entity.dxftype(), why, "give that font with --font"] += 1
        return font

    def _skip(self, what: str, why: str, remedy: str = "") -> None:
        self.left_out[what, why, remedy] += 1

    def _enter(self, insert: Insert, scope: _Scope, layer: _Layer) -> list[tuple[Iterator[Any], _Scope]]:
        """Return one iterator over the block for each place of the array, the first one last."""
        name = str(insert.dxf.get("name", ""))
        block = self.document.blocks.get(name)
        if block is None:
            self._skip("INSERT", f"block {name!r} does not exist in the file")
        elif name.lower() in scope.blocks:
            self._skip("INSERT", f"block {name!r} contains itself")
        elif block.block_record.is_xref:
            self._skip("INSERT", f"block {name!r} is another file", "bind or insert that file into the drawing")
        else:
            for attribute in insert.attribs:
                self._skip(attribute.dxftype(), *_reason("ATTRIB"))
            return list(self._copies(insert, block, scope, layer))
        return []

    def _copies(
        self, insert: Insert, block: Entity, scope: _Scope, layer: _Layer
    ) -> Iterator[tuple[Iterator[Any], _Scope]]:
        inner = replace(
            scope,
            layer=layer.name,
            colour=_colour(insert, layer, scope),
            insert=scope.insert or f"INSERT #{insert.dxf.handle}",
            blocks=(*scope.blocks, str(insert.dxf.name).lower()),
        )
        own = np.array(list(insert.matrix44()), dtype=float).reshape(4, 4).T
        if not np.all(np.isfinite(own)):
            self._skip("INSERT", "its scale or its place is no finite number", "delete it, or insert it again")
            return
        for offset in reversed(_array(insert)):
            placed = own.copy()
            placed[:3, 3] += offset
            matrix = scope.matrix @ placed
            yield _in_order(block), replace(inner, matrix=matrix, clips=(*scope.clips, *self._clip(insert, matrix)))

    def _clip(self, insert: Insert, matrix: Matrix) -> tuple[Clip, ...]:
        try:
            clip = clip_of(insert, matrix)
        except ValueError:
            why = f"block {insert.dxf.name!r} is taken whole, its clip is not understood"
            self.assumed["INSERT", why, "trim it in the drawing"] += 1
            return ()
        return () if clip is None else (clip,)


def _in_order(layout: Entity) -> Iterator[Any]:
    """Return the entities of a layout or a block, lowest first; without a sort table they stand in that order."""
    try:
        return iter(list(layout.entities_in_redraw_order() if dict(layout.get_redraw_order()) else layout))
    except (DXFError, ValueError, TypeError, AttributeError):  # a damaged table
        return iter(layout)


def _attribute(entity: Entity, name: str, default: object) -> object:
    """Return an attribute that entities of an unknown kind may not have."""
    return entity.dxf.get(name, default) if entity.dxf.is_supported(name) else default


def _array(insert: Insert) -> list[Matrix]:
    """Return the offset of each copy in an arrayed INSERT, in the coordinates around it; the spacing is not scaled."""
    rows = max(int(insert.dxf.row_count), 1) if insert.dxf.row_spacing else 1
    columns = max(int(insert.dxf.column_count), 1) if insert.dxf.column_spacing else 1
    if rows * columns > MOST_ENTITIES:
        raise DrawingError(
            f"an array of {rows} x {columns} blocks is too many",
            where=f"INSERT #{insert.dxf.handle}",
            remedy="save only the artwork that is to be cut",
        )
    turn = np.radians(float(insert.dxf.rotation))
    frame = ocs_matrix(insert)
    along = frame[:3, 0] * np.cos(turn) + frame[:3, 1] * np.sin(turn)
    across = frame[:3, 1] * np.cos(turn) - frame[:3, 0] * np.sin(turn)
    return [
        column * float(insert.dxf.column_spacing) * along + row * float(insert.dxf.row_spacing) * across
        for row in range(rows)
        for column in range(columns)
    ]


def ocs_matrix(entity: Entity) -> Matrix:
    """Return the 4 x 4 matrix from an entity's object coordinates to its world (the arbitrary axis algorithm)."""
    ocs = entity.ocs()
    matrix = np.eye(4)
    for column, axis in enumerate((ocs.ux, ocs.uy, ocs.uz)):
        matrix[:3, column] = axis.xyz
    return matrix


def _layers(document: Document) -> dict[str, _Layer]:
    return {
        str(layer.dxf.name).lower(): _Layer(
            name=str(layer.dxf.name),
            colour=_hex(layer.dxf.get("true_color"), layer.color),
            is_off=layer.is_off(),
            is_frozen=layer.is_frozen(),
        )
        for layer in document.layers
    }


def _hex(true_colour: int | None, index: int) -> str:
    if true_colour is not None:
        return f"#{true_colour & 0xFFFFFF:06x}"
    if not 1 <= index <= 255 or index == 7:
        return _BLACK
    return colors.aci2rgb(index).to_hex()


def _colour(entity: DXFGraphic, layer: _Layer, scope: _Scope) -> str:
    index = int(entity.dxf.get("color", _BYLAYER))
    true_colour = entity.dxf.get("true_color")
    if true_colour is None and index == _BYLAYER:
        return layer.colour
    if true_colour is None and index == _BYBLOCK:
        return scope.colour
    return _hex(true_colour, abs(index))


def _element(entity: DXFGraphic, scope: _Scope) -> str:
    name = f"{entity.dxftype()} #{entity.dxf.handle}"
    return f"{name} in {scope.insert}" if scope.insert else name


def _reason(kind: str) -> tuple[str, str]:
    """Return why an entity that encloses no area is left out, and what can be done."""
    for kinds, why, remedy in _REASONS:
        if kind in kinds:
            return why, remedy
    if kind.endswith("SURFACE"):
        return _SOLID
    return "inlayfit does not know this kind of entity", "explode it in the drawing program"


_SOLID = ("it is a solid or a surface, not an outline", "explode it to lines, or draw its outline")
_LETTERS = "it is text, not an outline"
_REASONS: tuple[tuple[frozenset[str], str, str], ...] = (
    (TEXTS, _LETTERS, "turn it into outlines, or name the file of its font with --font"),
    (
        frozenset({"ATTRIB", "ATTDEF", "SHAPE", "ARCALIGNEDTEXT", "RTEXT", "TOLERANCE"}),
        _LETTERS,
        "turn the text into outlines in the drawing program",
    ),
    (frozenset({"3DSOLID", "BODY", "REGION", "SURFACE", "3DFACE", "MESH", "HELIX"}), *_SOLID),
    (
        frozenset({"IMAGE", "OLE2FRAME", "OLEFRAME", "PDFUNDERLAY", "DWFUNDERLAY", "DGNUNDERLAY", "WIPEOUT"}),
        "it is a picture, not an outline",
        "trace it",
    ),
    (
        frozenset({"DIMENSION", "ARC_DIMENSION", "LARGE_RADIAL_DIMENSION", "LEADER", "MULTILEADER", "ACAD_TABLE"}),
        "it is annotation",
        "",
    ),
    (
        frozenset({"POINT", "RAY", "XLINE", "VIEWPORT", "LIGHT", "SUN", "CAMERA", "SECTION"}),
        "it encloses no area",
        "",
    ),
)
