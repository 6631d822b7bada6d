"""The XML of an SVG as a plain tree, read without touching any other file, address or network."""

from __future__ import annotations

import gzip
import os
import zlib
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from lxml import etree

from inlayfit.errors import DrawingError
from inlayfit.read.svg_notes import Notes

SVG = "http://www.w3.org/2000/svg"
XLINK = "http://www.w3.org/1999/xlink"
XML = "http://www.w3.org/XML/1998/namespace"
LABELS = "http://www.inkscape.org/namespaces/inkscape"

_IN_SVG, _HREF, _SPACE, _LABEL = f"{{{SVG}}}", f"{{{XLINK}}}href", f"{{{XML}}}space", f"{{{LABELS}}}"

TEXT = frozenset({"text", "tspan", "textPath"})

LARGEST_BYTES = 64 * 2**20
"""A drawing over 64 MB, packed or not, is refused: no emblem needs it, and unpacking must have an end."""

_RESOURCE_LIMIT = 114  # XML_ERR_RESOURCE_LIMIT of libxml2: depth, text size, entity growth
_ENTITY_LOOP = 89  # XML_ERR_ENTITY_LOOP


@dataclass(slots=True, eq=False)
class Node:
    """One SVG element. `attrs` holds local names; href of XLink is "href", labels of editors are "label:..."."""

    tag: str
    attrs: dict[str, str]
    parent: Node | None
    children: Sequence[Node] = ()
    text: str = ""
    head: str = ""
    """Of text: what stands before the first child; `tail` what stands behind this element in its parent."""
    tail: str = ""
    ruled: tuple[tuple[str, str, bool], ...] = ()
    """Declarations of style sheets that match, weakest first: name, value, important."""

    @property
    def label(self) -> str:
        """Return ``path#eye`` or, without an id, ``path``."""
        return f"{self.tag}#{self.attrs['id']}" if self.attrs.get("id") else self.tag


@dataclass(slots=True, kw_only=True)
class Tree:
    """All nodes in document order, with the elements that style sheets are matched against."""

    root: Node
    nodes: list[Node]
    by_id: dict[str, Node]
    elements: dict[Node, etree._Element]


def load_tree(source: Path, notes: Notes) -> Tree:
    """Read and parse; damaged XML is read as far as it goes, with a note.

    Raises:
        DrawingError: not XML, no svg element, or beyond the limits of size, depth or entity growth.
    """
    data = _bytes_of(source)
    root = _parse(data, source, notes)
    _refuse_external(root, source)
    space, _, name = root.tag.rpartition("}")
    if name != "svg" or space not in {"", _IN_SVG[:-1]}:
        raise DrawingError(f"this is no SVG: its root is <{name}>", where=source.name, remedy="export as SVG")
    if not space:
        notes.add("assumed", "svg", "the SVG namespace is missing; read as SVG all the same")
    if b"<?xml-stylesheet" in data:
        notes.add("left-out", "xml-stylesheet", "a style sheet outside the file is not read", "put the styles inside")
    return _tree_of(root)


def _refuse_external(root: etree._Element, source: Path) -> None:
    """Refuse a drawing that declares an entity whose text lies in another file or address.

    Raises:
        DrawingError: there is one; nothing was fetched.
    """
    declared = root.getroottree().docinfo.internalDTD
    outside = [] if declared is None else [e.name for e in declared.iterentities() if e.system_url]
    if outside:
        raise DrawingError(
            f"the entity {outside[0]!r} points outside of the file: that is never read",
            where=source.name,
            remedy="remove the DOCTYPE, or export the drawing as plain SVG",
        )


def _bytes_of(source: Path) -> bytes:
    try:
        with source.open("rb", buffering=0) as file:
            data = file.read() if os.fstat(file.fileno()).st_size <= LARGEST_BYTES else None
    except OSError as error:
        raise DrawingError(f"the file cannot be opened: {error.strerror}", where=source.name) from error
    if data is not None and data.startswith(b"\x1f\x8b"):
        data = _unpacked(source)
    if data is None or len(data) > LARGEST_BYTES:
        raise DrawingError(
            "the drawing is larger than 64 MB", where=source.name, remedy="simplify it, leave images out"
        )
    if not data or data.isspace():
        raise DrawingError("the file is empty", where=source.name, remedy="export the drawing again")
    return data


def _unpacked(source: Path) -> bytes:
    try:
        with gzip.open(source) as packed:
            return packed.read(LARGEST_BYTES + 1)
    except (OSError, EOFError, zlib.error) as error:
        raise DrawingError("the packed file is damaged", where=source.name, remedy="export it again") from error


def _parse(data: bytes, source: Path, notes: Notes) -> etree._Element:
    """Parse strictly, then leniently; limits of the parser are never lifted."""
    try:
        return etree.fromstring(data, _parser(recover=False))
    except etree.XMLSyntaxError as error:
        if error.code in {_RESOURCE_LIMIT, _ENTITY_LOOP}:
            raise DrawingError(
                f"the XML goes beyond what a drawing needs: {_reason(error)}",
                where=source.name,
                remedy="ungroup deep nesting, split huge paths, or export it again as plain SVG",
            ) from None
        fault = _reason(error)
    try:
        root = etree.fromstring(data, _parser(recover=True))
    except etree.XMLSyntaxError:
        root = None
    if root is None:
        raise DrawingError(f"this is no SVG: {fault}", where=source.name, remedy="export the drawing as SVG") from None
    notes.add("repaired", source.name, f"damaged XML, read as far as it goes: {fault}", "look whether all is there")
    return root


@cache
def _parser(*, recover: bool) -> etree.XMLParser:
    return etree.XMLParser(
        resolve_entities="internal",
        no_network=True,
        load_dtd=False,
        huge_tree=False,
        remove_comments=True,
        remove_pis=True,
        recover=recover,
    )


def _reason(error: etree.XMLSyntaxError) -> str:
    return str(error.msg).split(", use XML_PARSE_HUGE")[0].strip()


def _tree_of(root: etree._Element) -> Tree:
    """Build nodes for SVG elements; elements of other namespaces and all below them are no part of the drawing."""
    tree = Tree(root=_node(root, None), nodes=[], by_id={}, elements={})
    pending = [(root, tree.root)]
    while pending:
        element, node = pending.pop()
        tree.nodes.append(node)
        tree.elements[node] = element
        if node.attrs.get("id"):
            tree.by_id.setdefault(node.attrs["id"], node)
        below = [(child, _node(child, node)) for child in element if _is_svg(child.tag)]
        if below:
            node.children = [child for _, child in below]
            below.reverse()
            pending += below
    return tree


def _is_svg(tag: object) -> bool:
    return isinstance(tag, str) and (tag.startswith(_IN_SVG) or tag[0] != "{")


def _node(element: etree._Element, parent: Node | None) -> Node:
    attrs: dict[str, str] = {}
    for key, value in element.items():
        if key[0] != "{":
            attrs[key] = value
        elif key == _HREF:
            attrs.setdefault("href", value)
        elif key == _SPACE:
            attrs["xml:space"] = value
        elif key.startswith(_LABEL):
            attrs[f"label:{key.rpartition('}')[2]}"] = value
    tag = element.tag.rpartition("}")[2]
    inner = tag in TEXT or (parent is not None and parent.tag in TEXT)  # what stands between letters are letters too
    keeps_text = inner or tag in {"style", "title"}
    return Node(
        tag=tag,
        attrs=attrs,
        parent=parent,
        text="".join(element.itertext()) if keeps_text else "",
        head=(element.text or "") if inner else "",
        tail=(element.tail or "") if inner and tag != "text" else "",
    )
