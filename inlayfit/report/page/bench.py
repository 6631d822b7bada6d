"""What stands round the drawing: switches, the walk along the seam, the legend, and the list of findings."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from inlayfit.findings import Finding, Severity
from inlayfit.recipe import Fit
from inlayfit.report.page.drawing import Layer
from inlayfit.report.page.markup import figure, quiet, text
from inlayfit.report.places import Place, is_softened
from inlayfit.report.reading import number_of
from inlayfit.units import MM_PER_INCH, Mm, format_thou
from inlayfit.write.gap_scale import CIVIDIS, GapScale

WORDS: dict[Severity, str] = {"loss": "Loss", "warning": "Warning", "note": "Note"}
SOFTENED = "Softened"

Numbered = tuple[int, Place]
"""A place with its number, which its pin has as well."""

KEYS = (
    "In the drawing: arrow keys move it, + and - zoom, 0 shows all of it; comma and full stop step along the seam, "
    "n and p go to the next and the previous finding, Escape puts away what is shown."
)


TOOLS = (
    '<div class="tools live" role="group" aria-label="Zoom">',
    '<button type="button" id="zoom-in" aria-label="Zoom in">+</button>',
    '<button type="button" id="zoom-out" aria-label="Zoom out">&#8722;</button>',
    '<button type="button" id="zoom-all" aria-label="Show all of the drawing">All</button>',
    "</div>",
    '<div id="card" class="card" hidden="hidden"><p id="card-text" aria-live="polite"></p><div class="card-tools">',
    '<button type="button" id="card-previous">Previous</button><button type="button" id="card-next">Next</button>',
    '<button type="button" id="card-list">To the list</button>',
    '<button type="button" id="card-close">Put away</button></div></div>',
)


def stage(svg: Sequence[str]) -> list[str]:
    """Return the drawing with its tools, and the card that tells of a finding."""
    thou = f'data-mm-per-thou="{MM_PER_INCH / 1000}"'
    return [
        '<div class="stage-frame">',
        f'<div id="stage" class="stage" tabindex="0" role="group" aria-label="Drawing" aria-describedby="keys" {thou}>',
        *svg,
        '<span id="here" class="here" aria-hidden="true" hidden="hidden"></span>',
        '<p id="tip" class="tip" aria-hidden="true" hidden="hidden"></p>',
        '<div id="ruler" class="ruler" aria-hidden="true" hidden="hidden"><span></span></div>',
        "</div>",
        *TOOLS,
        "</div>",
    ]


def legend(scale: GapScale, joint: Mm) -> list[str]:
    """Return the steps of the scale with what they mean; `joint` is the gap that was asked for between pieces."""
    low, high = scale.ends
    beyond = "red, thick: the piece touches; what lies beyond an end has the colour of that end"
    if joint != scale.asked:
        beyond += f"; between two pieces {figure(joint)} mm is as asked, with the same steps"
    ticks = [
        f"<li>{text(words)}<br/><b>{figure(value)} mm</b><br/>{format_thou(value)}</li>"
        for words, value in (("tighter", low), ("as asked", scale.asked), ("wider", high))
    ]
    swatches = "".join(f'<li class="step-{step}"></li>' for step in range(len(CIVIDIS)))
    return [
        '<div class="legend"><p>Gap on each side, along the seam</p>',
        f'<ul class="ramp" aria-hidden="true">{swatches}</ul><ul class="ticks">{"".join(ticks)}</ul>',
        f'<p class="quiet"><span class="swatch touches"></span>{beyond}</p></div>',
    ]


def switches(layers: Sequence[Layer]) -> list[str]:
    """Return a switch for each layer; they work by style alone, so that they do without script."""
    return ['<fieldset class="switches"><legend>Show</legend>', *map(_switch, layers), "</fieldset>"]


def _switch(layer: Layer) -> str:
    checked = ' checked="checked"' if layer.shown else ""
    return (
        f'<label title="{layer.says}"><input type="checkbox" id="show-{layer.key}"{checked}/>'
        f'<span class="key key-{layer.key}" aria-hidden="true"></span>{layer.label}</label>'
    )


def walk(fit: Fit) -> list[str]:
    """Return what leads along the seam without a pointer: a piece, and a place along its edge."""
    options = [f'<option value="{index}">{text(piece.name)}</option>' for index, piece in enumerate(fit.pieces)]
    return [
        '<fieldset class="walk live"><legend>Along the seam</legend>',
        f'<label>Piece <select id="walk-piece">{"".join(options)}</select></label>',
        '<label>Place <input type="range" id="walk-place" min="0" max="0" value="0"/></label>',
        '<output id="readout" for="walk-piece walk-place">Point at the seam, or move along it here.</output>',
        "</fieldset>",
    ]


def findings(places: Sequence[Place]) -> list[str]:
    """Return the places, the worst first, in an entry for each word; notes are folded up."""
    kinds: dict[str, list[Numbered]] = {}
    for number, place in enumerate(places, start=1):
        kinds.setdefault(word(place.worst), []).append((number, place))
    if not kinds:
        return [quiet("There are none.")]
    lines = [quiet("the worst first; x, y in mm")]
    for says, numbered in kinds.items():
        folded = "" if says == WORDS["note"] else ' open="open"'
        lines += [
            f'<details class="kind {says.lower()}"{folded}>',
            f'<summary><b class="word">{says}</b> {number_of(len(numbered), "place")}</summary>',
            *(line for lot in _alike(numbered, lambda worst: worst.remedy).values() for line in _lot(lot)),
            "</details>",
        ]
    return lines


def _alike(numbered: Iterable[Numbered], key: Callable[[Finding], str]) -> dict[str, list[Numbered]]:
    lots: dict[str, list[Numbered]] = {}
    for number, place in numbered:
        lots.setdefault(key(place.worst), []).append((number, place))
    return lots


def _lot(lot: Sequence[Numbered]) -> list[str]:
    """Return the places with one remedy, which is said once; those of which the same is said stand side by side."""
    lines = ['<div class="lot">']
    for message, alike in _alike(lot, lambda worst: worst.message).items():
        links = "".join(f"<li>{_link(number, place.worst)}</li>" for number, place in alike)
        lines.append(f'<div class="said"><p class="what">{text(message)}</p><ul>{links}</ul></div>')
    remedy = lot[0][1].worst.remedy
    return [*lines, *([f'<p class="remedy">{text(remedy)}</p>'] if remedy else []), "</div>"]


def _link(number: int, worst: Finding) -> str:
    reach = f' data-reach="{worst.reach_mm:.3f}"' if worst.reach_mm else ""
    at = f'data-x="{worst.x:.3f}" data-y="{worst.y:.3f}"{reach}'
    return f'<a href="#mark-{number}" id="place-{number}" {at}><b>{number}</b> {_spot(worst)}</a>'


def _spot(finding: Finding) -> str:
    at = f"{finding.x:.1f}, {finding.y:.1f}"
    return f"{text(finding.name)} at {at}" if finding.name else at


def word(finding: Finding) -> str:
    """Return how bad it is, in a word."""
    return SOFTENED if is_softened(finding) else WORDS[finding.severity]


def step_rules() -> str:
    """Return the colours of the legend as rules of style."""
    return "\n".join(f".step-{step} {{ background: {colour}; }}" for step, colour in enumerate(CIVIDIS))


def switch_rules(layers: Sequence[Layer]) -> str:
    """Return the rules that hide a layer whose switch is off."""
    return "\n".join(
        f"body:has(#show-{layer.key}:not(:checked)) {layer.hides} {{ display: none; }}" for layer in layers
    )
