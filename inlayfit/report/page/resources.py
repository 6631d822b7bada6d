"""The style and the script of the page, which lie beside this file; the only part of the page that touches files."""

from __future__ import annotations

import base64
import hashlib
from importlib.resources import files

STYLES = ("page.css", "print.css")
NIGHT = "night.css"
SCRIPTS = ("view.js", "hands.js", "seam.js", "places.js", "light.js")
"""In this order: what comes later uses what came before."""


def style_sheet(*more: str) -> str:
    """Return all rules; the colours of the night stand for those who chose them, and where the system asks for them."""
    night = _text(NIGHT)
    rules = [
        _text(STYLES[0]),
        f"@media screen and (prefers-color-scheme: dark) {{ :root:not([data-light=day]) {{\n{night}}} }}",
        f"@media screen {{ :root[data-light=night] {{\n{night}}} }}",
        *more,
        _text(STYLES[1]),
    ]
    return "\n".join(rules)


def script() -> str:
    """Return the whole script, which leaves no name behind."""
    return "\n".join(['(() => {\n"use strict";', *map(_text, SCRIPTS), "})();"])


def policy(style: str, code: str) -> str:
    """Return the policy that lets a page do nothing but use this style and this script, exactly as they stand.

    Source: W3C, Content Security Policy Level 3, 2.3 (hash sources) and 6.1 (directives).
    """
    allowed = f"style-src '{_hash(style)}'; script-src '{_hash(code)}'"
    return f"default-src 'none'; {allowed}; base-uri 'none'; form-action 'none'"


def _hash(content: str) -> str:
    return f"sha256-{base64.b64encode(hashlib.sha256(content.encode()).digest()).decode()}"


def _text(name: str) -> str:
    return files(__package__).joinpath(name).read_text(encoding="utf-8")
