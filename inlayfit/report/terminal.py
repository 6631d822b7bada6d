"""What a maker reads on the screen: the verdict first, in one line to act on, then the reasons."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from pathlib import PurePath

from rich.console import RenderableType
from rich.table import Table
from rich.text import Text

from inlayfit.checker import Check, verdict_of
from inlayfit.cutters import Bit, Cutter, size_label
from inlayfit.drawing import Drawing
from inlayfit.expected import Expected
from inlayfit.recipe import Fit, Piece
from inlayfit.report.expected import expected_lines
from inlayfit.report.places import Place, is_softened, places_of
from inlayfit.report.reading import Line, number_of, reading_lines, size_text
from inlayfit.stocks import Stock
from inlayfit.units import Mm, format_mm
from inlayfit.wood_part import WoodPart

STYLES = {"as drawn": "bold green", "softened": "bold yellow", "loses detail": "bold red"}
MARKS = {"LOSS": "bold red", "soft": "yellow", "warn": "yellow", "note": "cyan"}

LABEL_COLUMNS = 9
"""So that the tables of labels stand in one line, one below the other."""

MOST_ROWS = 10
"""Rows of one mark that are listed; the rest is counted, and stands in the JSON."""

MOST_REGIONS = 40
"""Regions that `look` lists."""

MOST_NAMES = 3
"""Pockets of one depth that are named; the rest is counted."""

MOST_SPOTS = 4
"""Lines that the spots of one row take, where the same is to be said of many."""

CAUTION = (
    "Shell, bone and wood dust can harm lungs and skin. Extract at the tool or cut wet, wear a fitted respirator and "
    "eye protection. Limits and permits differ by country and change: check your own."
)


def look_report(drawing: Drawing, files: Sequence[tuple[str, str]] = ()) -> list[RenderableType]:
    """Return what was understood of a drawing, and each region; `files` are (path, kind) of what was written."""
    verdict = f"{PurePath(drawing.source).name} can be read: {number_of(len(drawing.regions), 'region')}."
    return [Text(verdict, style="bold"), *_what_was_read(drawing), *_regions(drawing), *_files(files, "")]


def check_report(check: Check, drawing: Drawing, files: Sequence[tuple[str, str]] = ()) -> list[RenderableType]:
    """Return the answer of a check from top to bottom; `files` are (path, kind) of what was written."""
    places = places_of(check.findings)
    return [
        _verdict(check, places),
        *_what_was_read(drawing),
        *_places(places),
        *_sizes(check),
        *_files(files, ""),
    ]


def fit_report(
    fit: Fit, files: Sequence[tuple[str, str]], *, expected: Expected | None = None, proof: str = ""
) -> list[RenderableType]:
    """Return the result of a fit from top to bottom; `files` are (path, kind), `proof` is what reading back showed."""
    places = places_of(fit.findings)
    return [
        fit_verdict(fit, places),
        *_what_was_read(fit.drawing),
        *_pairs(fit),
        *([] if expected is None else _lines(expected_lines(expected))),
        *_places(places),
        *_files(files, proof),
        Text(f"\n{CAUTION}"),
    ]


def _verdict(check: Check, places: Sequence[Place]) -> Text:
    name, bit = PurePath(check.drawing).name, _short(check.cutter)
    size = size_text(check.size)
    lost, soft = _counted(places, "LOSS"), _counted(places, "soft")
    if check.verdict == "as drawn":
        say = f"yes: {name} at {size} can be cut as drawn with a {bit} (within {format_mm(check.tolerance)})."
    elif check.verdict == "softened":
        say = f"yes, softened: a {bit} rounds {soft} of {name} at {size}, and loses nothing."
    else:
        say = f"no: a {bit} loses {lost} of {name} at {size}. {_way_out(check)}"
    return Text(say[0].upper() + say[1:], style=STYLES[check.verdict])


def _way_out(check: Check) -> str:
    ways = []
    if check.largest_bit_no_loss is not None:
        ways.append(f"a bit of {_floor_mm(check.largest_bit_no_loss)} or less loses nothing")
    if check.smallest_width is not None:
        ways.append(f"this one cuts it all from {_ceil_mm(check.smallest_width)} wide")
    text = "; ".join(ways) or "No bit and no size cuts all of it: redraw the places below"
    return f"{text[0].upper()}{text[1:]}."


def fit_verdict(fit: Fit, places: Sequence[Place]) -> Text:
    """Return the answer of a fit in one line to act on."""
    tight = [piece.name for piece in fit.pieces if not piece.drops_in]
    halves = f"{number_of(len(fit.pieces), 'piece')} and {number_of(len(fit.pockets), 'pocket')}"
    verdict = verdict_of(fit.findings)
    if tight:
        touch = "touches its pocket" if len(tight) == 1 else "touch their pockets"
        say = f"No fit: {', '.join(tight)} {touch}. Take a larger gap or a smaller bit."
        return Text(say, style=STYLES["loses detail"])
    least, most = min(piece.gap.min for piece in fit.pieces), max(piece.gap.max for piece in fit.pieces)
    say = f"They fit: {halves}, gap {_range(least, most)} a side (asked: {format_mm(fit.settings.gap)})"
    if verdict == "loses detail":
        say += f", but the drawing loses {_counted(places, 'LOSS')}: look below before you cut."
    elif verdict == "softened" and fit.settings.corners == "sharp":
        say += f" once {_counted(places, 'soft')} listed below are finished by hand."
    elif verdict == "softened":
        say += f"; {_counted(places, 'soft')} softened on both halves."
    else:
        say += ", as drawn."
    if filed := sum(finding.kind == "gap-may-close" for finding in fit.findings):
        say += f" {number_of(filed, 'piece')} may be tight: the errors of cutting can eat up the room."
    return Text(say, style=STYLES[verdict])


def _what_was_read(drawing: Drawing) -> list[RenderableType]:
    return _lines(reading_lines(drawing))


def _lines(lines: Sequence[Line]) -> list[RenderableType]:
    table = _grid()
    for line in lines:
        text = Text(line.text)
        table.add_row(line.label, text.append(f" ({line.remedy})", style="italic") if line.remedy else text)
    return [Text(), table]


def _regions(drawing: Drawing) -> list[RenderableType]:
    table = Table(box=None, padding=(0, 2, 0, 0), show_edge=False, header_style="bold")
    for heading in ("region", "layer", "colour"):
        table.add_column(heading, overflow="fold")
    for heading in ("x, y mm", "size mm", "mm2", "holes"):
        table.add_column(heading, justify="right")
    for region in drawing.regions[:MOST_REGIONS]:
        left, bottom, right, top = region.polygon.bounds
        size = size_text((right - left, top - bottom)).removesuffix(" mm")
        area, holes = f"{region.polygon.area:.2f}", str(len(region.polygon.interiors))
        names = (Text(name) for name in (region.name, region.layer, region.colour))
        table.add_row(*names, _at((left, bottom)), size, area, holes)
    left_over = len(drawing.regions) - MOST_REGIONS
    more = [Text(f"and {left_over} more: all of them with --json", style="dim")] if left_over > 0 else []
    return [Text(), table, *more]


def _places(places: Sequence[Place]) -> list[RenderableType]:
    if not places:
        return []
    table = Table(box=None, padding=(0, 2, 0, 0), show_edge=False, header_style="bold")
    table.add_column("")
    table.add_column("x, y mm", no_wrap=True)
    table.add_column("off mm", no_wrap=True, justify="right")
    table.add_column("what, and what to do")
    left_over = []
    for mark, style in MARKS.items():
        rows = _alike([place for place in places if _mark(place) == mark])
        remedy = ""
        for row in rows[:MOST_ROWS]:
            table.add_row(Text(mark, style=style), *_row(row, said=remedy))
            remedy = row[0].worst.remedy
        if len(rows) > MOST_ROWS:
            left_over.append(f"{sum(map(len, rows[MOST_ROWS:]))} more {mark}")
    rest = [Text(f"and {', '.join(left_over)}: all of them with --json", style="dim")] if left_over else []
    return [Text(), table, *rest]


def _alike(places: Sequence[Place]) -> list[list[Place]]:
    """Return the places in lots of which the same is said, the worst lot first."""
    lots: dict[str, list[Place]] = {}
    for place in places:
        lots.setdefault(place.worst.message, []).append(place)
    return list(lots.values())


def _mark(place: Place) -> str:
    if place.worst.severity == "warning":
        return "soft" if is_softened(place.worst) else "warn"
    return "LOSS" if place.worst.severity == "loss" else "note"


def _row(lot: Sequence[Place], *, said: str) -> tuple[str, str, Text]:
    """Return where, how deep and what, for places that are alike; a remedy that was `said` is not said again."""
    worst = lot[0].worst
    what = Text(f"{_whose(lot)}{worst.message}")
    if worst.remedy and worst.remedy != said:
        what.append(f"\n{worst.remedy}", style="italic")
    spots = [_at((place.worst.x, place.worst.y)) for place in lot]
    if len(spots) > MOST_SPOTS:
        spots[MOST_SPOTS - 1 :] = [f"{len(spots) - MOST_SPOTS + 1} more"]
    return "\n".join(spots), "" if worst.reach_mm is None else f"{worst.reach_mm:.3f}", what


def _whose(lot: Sequence[Place]) -> str:
    """Return the name of the region before what is said of it, or the first name of several."""
    first, *others = dict.fromkeys(place.worst.name for place in lot)
    more = f" and {number_of(len(others), 'other')}" if others else ""
    return f"{first}{more}: " if first else ""


def _sizes(check: Check) -> list[RenderableType]:
    summary = _grid()
    none = "no bit at this size"
    summary.add_row("Loses nothing", _or(check.largest_bit_no_loss, none, lambda mm: f"bits up to {_floor_mm(mm)}"))
    summary.add_row(
        f"Within {format_mm(check.tolerance)}", _or(check.largest_bit, none, lambda mm: f"bits up to {_floor_mm(mm)}")
    )
    summary.add_row(
        "This bit",
        _or(check.smallest_width, "", lambda mm: f"cuts it all from {_ceil_mm(mm)} wide. ") + check.scaling_note,
    )
    if not check.ladder:
        return [Text(), summary]
    ladder = Table(box=None, padding=(0, 2, 0, 0), show_edge=False, header_style="bold")
    ladder.add_column("bit")
    ladder.add_column("verdict")
    for heading in ("lost", "soft", "lost mm2"):
        ladder.add_column(heading, justify="right")
    for rung in check.ladder:
        row = (rung.label, Text(rung.verdict, style=STYLES[rung.verdict]), str(rung.places_lost))
        ladder.add_row(*row, str(rung.places_softened), f"{rung.area_lost_mm2:.2f}")
    return [Text(), summary, Text(), ladder]


def _pairs(fit: Fit) -> list[RenderableType]:
    table = Table(box=None, padding=(0, 2, 0, 0), show_edge=False, header_style="bold")
    for heading in ("piece", "pocket"):
        table.add_column(heading, overflow="fold")
    for heading in ("gap", "min", "mean", "max", "even"):
        table.add_column(heading, justify="right", no_wrap=True)
    for piece in fit.pieces:
        table.add_row(*_pair(piece, fit))
    settings = fit.settings
    cut = _grid()
    if settings.stocks:
        for number, stock in enumerate(settings.all_stocks):
            cut.add_row("" if number else "Stocks", Text(_stock(stock, fit)))
        cut.add_row("Cut with", f"pocket {settings.pocket_cutter.label}")
    else:
        cut.add_row("Cut with", f"piece {settings.piece_cutter.label}; pocket {settings.pocket_cutter.label}")
    joint = "" if settings.joint is None else f"; {format_mm(settings.joint)} between pieces"
    gap = f"{format_mm(settings.gap)} a side, from the {settings.gap_from}{joint}; corners {settings.corners}"
    cut.add_row("Gap", gap)
    for number, line in enumerate(_depths(fit)):
        cut.add_row("" if number else "Depth", Text(line))
    if fit.part is not None:
        cut.add_row("Part", Text(_part(fit.part)))
    return [cut, Text(), table]


def _depths(fit: Fit) -> list[str]:
    """Return how deep the pockets are, those that are alike together."""
    lots: dict[str, list[str]] = {}
    for pocket in fit.pockets:
        if pocket.zones:
            lots.setdefault(" and ".join(format_mm(zone.depth) for zone in pocket.zones), []).append(pocket.name)
    return [
        f"{depths}: {', '.join(names[:MOST_NAMES])}"
        + (f" and {len(names) - MOST_NAMES} more" * (len(names) > MOST_NAMES))
        for depths, names in lots.items()
    ]


def _part(part: WoodPart) -> str:
    """Return what is known of the part that is inlaid."""
    known = [
        "" if part.thickness is None else f"{format_mm(part.thickness)} thick",
        "" if part.outline is None else "with its outline",
        number_of(len(part.holes), "hole") if part.holes else "",
        number_of(len(part.keep_outs), "keep-out") if part.keep_outs else "",
        f"clearance {format_mm(part.clearance)}" if part.clearance else "",
    ]
    return ", ".join(text for text in known if text)


def _stock(stock: Stock, fit: Fit) -> str:
    """Return what is cut from a stock, and with what."""
    count = sum(piece.stock == stock.name for piece in fit.pieces)
    thick = f", {format_mm(stock.thickness)}" if stock.thickness is not None else ""
    cutter = f"; {stock.cutter.label}" if stock.cutter is not None else ""
    return f"{stock.name} ({stock.kind}{thick}): {number_of(count, 'piece')}{cutter}"


def _pair(piece: Piece, fit: Fit) -> tuple[str, ...]:
    gap = piece.gap
    figures = (gap.nominal, gap.min, gap.mean, gap.max)
    return piece.name, fit.pockets[piece.pocket].name, *(f"{value:.3f}" for value in figures), f"{gap.even_share:.0%}"


def _files(files: Sequence[tuple[str, str]], proof: str) -> list[RenderableType]:
    if not files:
        return []
    table = _grid()
    for index, (path, _kind) in enumerate(files):
        table.add_row("Written" if index == 0 else "", Text(path, overflow="fold"))
    if proof:
        table.add_row("Read back", proof)
    return [Text(), table]


def _grid() -> Table:
    """Return a table of a label and its text."""
    table = Table.grid(padding=(0, 2, 0, 0))
    table.add_column(style="bold", no_wrap=True, min_width=LABEL_COLUMNS)
    table.add_column(overflow="fold")
    return table


def _or(value: Mm | None, otherwise: str, say: Callable[[Mm], str]) -> str:
    return otherwise if value is None else say(value)


def _counted(places: Sequence[Place], mark: str) -> str:
    return number_of(sum(_mark(place) == mark for place in places), "place")


def _short(cutter: Cutter) -> str:
    """Return the cutter without its runout, for the one line that is read first."""
    return f"{size_label(cutter.diameter)} bit" if isinstance(cutter, Bit) else cutter.label


def _at(at: tuple[Mm, Mm]) -> str:
    return f"{at[0]:.1f}, {at[1]:.1f}"


def _range(least: Mm, most: Mm) -> str:
    low, high = f"{least:.3f}", f"{most:.3f}"
    return f"{low} mm" if low == high else f"{low} to {high} mm"


def _floor_mm(value: Mm) -> str:
    """Round a largest size down: the rounded one must do as well."""
    return format_mm(math.floor(value * 1000) / 1000)


def _ceil_mm(value: Mm) -> str:
    """Round a smallest size up."""
    return format_mm(math.ceil(value * 10) / 10, 1)
