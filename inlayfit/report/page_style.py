"""How the page of a board looks: on a screen by day and by night, on a phone, and on paper (A4, across)."""

from __future__ import annotations

from collections.abc import Mapping

from inlayfit.sheet import GUIDE, LAYER_COLOURS

LIGHT: Mapping[str, str] = {name: colour for name, (colour, _) in LAYER_COLOURS.items()} | {
    "paper": "#ffffff",
    "text": "#1d2127",
    "quiet": "#565d66",
    "rule": "#d5d9de",
    "loss": "#a4161a",
    "warning": "#7a4b00",
    "note": "#1c5a87",
    GUIDE: "#666b73",  # darker than in the drawings: here it is text to be read as well
}
"""By day and on paper. The contrast of text with the paper is 4.5 at least, that of lines 3."""

DARK: Mapping[str, str] = {
    "paper": "#14171b",
    "text": "#e6e8eb",
    "quiet": "#a9b0b9",
    "rule": "#3a4149",
    "loss": "#ff9b98",
    "warning": "#f0c060",
    "note": "#8cc8f5",
    "PIECE_OUTLINE": "#5cc9ae",
    "PIECE_PATH": "#f08a98",
    "POCKET_OUTLINE": "#8fabf5",
    "POCKET_PATH": "#f0a64f",
    "BOARD_OUTLINE": "#d8c3ac",
    "SLOT_OUTLINE": "#c9a873",
    "SLOT_PATH": "#e58ad3",
    "PIN_HOLE": "#4fd0d2",
    GUIDE: "#9aa1aa",
}
"""By night, the same."""

RULES = """\
:root { color-scheme: light dark; }
body { margin: 0 auto; padding: 1rem; max-width: 90rem; background: var(--paper); color: var(--text);
  font: 1rem/1.5 system-ui, sans-serif; overflow-wrap: anywhere; }
h1 { margin: 0; font-size: 1.6rem; line-height: 1.25; }
h2 { margin: 2rem 0 .5rem; font-size: 1.2rem; line-height: 1.25; }
p { margin: .5rem 0; max-width: 45rem; }
.quiet, .key { color: var(--quiet); }
.scroll { overflow-x: auto; }
.scroll:focus-visible { outline: 2px solid var(--note); outline-offset: 2px; }
.drawing { display: block; width: 100%; min-width: 56rem; height: auto; }
.drawing g { stroke-width: 1px; }
.drawing path, .drawing line { vector-effect: non-scaling-stroke; }
.drawing text { font-size: 4px; }
.key { display: flex; flex-wrap: wrap; gap: .25rem 1.5rem; margin: .5rem 0; padding: 0; list-style: none; }
.key span { display: inline-block; width: 1.5rem; height: 3px; margin-right: .5rem; vertical-align: middle; }
table { border-collapse: collapse; font-variant-numeric: tabular-nums; overflow-wrap: normal; }
th, td { padding: .3rem .75rem .3rem 0; border-bottom: 1px solid var(--rule); text-align: left; vertical-align: top; }
th { font-weight: 600; }
.number { text-align: right; white-space: nowrap; }
.prose { min-width: 14rem; }
.loss, .warning, .note { font-weight: 600; }
.loss { color: var(--loss); }
.warning { color: var(--warning); }
.note { color: var(--note); }
@media print {
  @page { size: A4 landscape; margin: 12mm; }
  body { max-width: none; padding: 0; font-size: 9pt; }
  .scroll { overflow: visible; }
  .drawing { min-width: 0; }
  h2 { break-after: avoid; }
  tr, figure { break-inside: avoid; }
  .key span { print-color-adjust: exact; }
}
"""


def style_sheet() -> str:
    """Return the rules, with the colours by day, which paper has as well, and by night."""
    strokes = [
        f"#{name} {{ stroke: var(--{name}); }} #{name} text {{ fill: var(--{name}); }} "
        f".key-{name} {{ background: var(--{name}); }}"
        for name in LAYER_COLOURS
    ]
    night = f"@media screen and (prefers-color-scheme: dark) {{\n{_colours(DARK)}\n}}"
    return "\n".join([_colours(LIGHT), night, *strokes, RULES])


def _colours(colours: Mapping[str, str]) -> str:
    return f":root {{ {' '.join(f'--{name}: {colour};' for name, colour in colours.items())} }}"
