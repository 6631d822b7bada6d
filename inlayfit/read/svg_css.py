"""Style sheets inside a drawing: which declarations match which element, weakest first."""

from __future__ import annotations

import re

import cssselect2
import tinycss2

from inlayfit.errors import DrawingError
from inlayfit.read.svg_notes import Notes
from inlayfit.read.svg_tree import Tree

Declaration = tuple[str, str, bool]
"""Name in lower case, value, whether it is marked important."""

_SCREEN = ("all", "screen")

MOST_LETTERS = 1_000_000
"""Letters of all style sheets, without embedded data: a million takes most of a second; drawings have thousands."""

_DATA = re.compile(r"data:[^)\"']{100,}")  # fonts and images that are embedded in a style sheet: nothing to cut


def apply_sheets(tree: Tree, notes: Notes) -> None:
    """Store with every node the declarations of the style sheets that match it (`Node.ruled`).

    Raises:
        DrawingError: style sheets that would take seconds to parse.
    """
    sheets = [node for node in tree.nodes if node.tag == "style" and node.attrs.get("type", "text/css") == "text/css"]
    texts = [_DATA.sub("data:,", sheet.text) for sheet in sheets if _shown(sheet.attrs.get("media", ""))]
    if sum(map(len, texts)) > MOST_LETTERS:
        raise DrawingError(
            f"its style sheets hold over {MOST_LETTERS:,} letters",
            where="style",
            remedy="export it again with the styles at the shapes",
        )
    if not texts:
        return
    matcher = cssselect2.Matcher()
    count = sum(_add_rules(matcher, tinycss2.parse_stylesheet(text, skip_comments=True), notes) for text in texts)
    if count:
        wrapper = cssselect2.ElementWrapper.from_xml_root(tree.elements[tree.root])
        nodes = {element: node for node, element in tree.elements.items()}
        for element in wrapper.iter_subtree():
            node = nodes.get(element.etree_element)
            for _, _, pseudo, declarations in sorted(matcher.match(element), key=lambda match: match[:2]):
                if node is not None and pseudo is None:
                    node.ruled += tuple(declarations)


def _add_rules(matcher: cssselect2.Matcher, rules: list[object], notes: Notes) -> int:
    """Add the qualified rules, also those inside @media blocks that apply; returns how many."""
    count = 0
    for rule in rules:
        if rule.type == "qualified-rule":  # type: ignore[attr-defined]
            count += _add_rule(matcher, rule, notes)
        elif rule.type == "at-rule":  # type: ignore[attr-defined]
            count += _at_rule(matcher, rule, notes)
    return count


def _at_rule(matcher: cssselect2.Matcher, rule: object, notes: Notes) -> int:
    name = rule.lower_at_keyword  # type: ignore[attr-defined]
    condition = tinycss2.serialize(rule.prelude)  # type: ignore[attr-defined]
    if name == "import":
        notes.add("left-out", "style", f"@import {condition.strip()} is not followed", "put the style sheet inside")
    if name != "media" or not _shown(condition) or rule.content is None:  # type: ignore[attr-defined]
        return 0
    return _add_rules(matcher, tinycss2.parse_rule_list(rule.content, skip_comments=True), notes)  # type: ignore[attr-defined]


def _shown(media: str) -> bool:
    """Whether a media query without conditions names a screen; a query with conditions is taken as not met."""
    return not media.strip() or any(part.strip().lower() in _SCREEN for part in media.split(","))


def _add_rule(matcher: cssselect2.Matcher, rule: object, notes: Notes) -> int:
    try:
        selectors = cssselect2.compile_selector_list(rule.prelude)  # type: ignore[attr-defined]
    except cssselect2.SelectorError:
        text = tinycss2.serialize(rule.prelude).strip()  # type: ignore[attr-defined]
        notes.add("left-out", "style", f"the selector {text!r} is not understood; its rule is not applied")
        return 0
    declarations = parse_declarations(rule.content)  # type: ignore[attr-defined]
    for selector in selectors:
        matcher.add_selector(selector, declarations)
    return 1


def parse_declarations(source: str | list[object]) -> list[Declaration]:
    """Return the declarations of a style attribute or of a rule's block, in order."""
    if isinstance(source, str) and not any(mark in source for mark in "\"'(\\!/{"):
        pairs = (part.partition(":") for part in source.split(";") if ":" in part)
        return [(name.strip().lower(), value.strip(), False) for name, _, value in pairs if value.strip()]
    parsed = tinycss2.parse_declaration_list(source, skip_comments=True, skip_whitespace=True)
    return [
        (_name(item), tinycss2.serialize(item.value).strip(), item.important)
        for item in parsed
        if item.type == "declaration"
    ]


def _name(item: object) -> str:
    return str(item.name if item.name.startswith("--") else item.lower_name)  # type: ignore[attr-defined]
