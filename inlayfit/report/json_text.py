"""A document of JSON as text: for people who read it, and for a page that carries it within."""

from __future__ import annotations

import json
import re
from typing import Any

_NUMBERS = re.compile(r"\[\n\s+(-?\d[^\[\]{}\"]*?)\n\s*\]")
"""A list of numbers over several lines; no text can look like one, for in JSON no text holds a new line."""

_MARKUP = {ord(sign): f"\\u{ord(sign):04x}" for sign in "<>&"}
"""What would mean something to a page, as the escapes that mean the same to JSON."""


def json_text(document: dict[str, Any]) -> str:
    """Return the document as it leaves: indented, each list of numbers on one line."""
    text = json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False)
    return _NUMBERS.sub(lambda found: f"[{' '.join(found[1].split())}]", text) + "\n"


def json_within_page(document: dict[str, Any]) -> str:
    r"""Return the document as it may stand in a page of HTML or XML: whatever it holds, it stays JSON.

    >>> json_within_page({"name": "</script>"})
    '{"name":"\\u003c/script\\u003e"}'
    """
    text = json.dumps(document, separators=(",", ":"), allow_nan=False)  # ASCII: XML does not take every letter
    return text.translate(_MARKUP)
