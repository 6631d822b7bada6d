"""The cutting programs of a job: a file a bit of each blank, in its own coordinates, and one of the pockets in wood.

What a saw or a beam cuts has no program: its path stands in the drawing.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

from inlayfit.arcs import ArcRing, ring_area
from inlayfit.blank_sheets import lying
from inlayfit.cutters import Bit
from inlayfit.depth import Zone
from inlayfit.feeds import Cutting, Machine, Speeds, SpeedsAsked, speeds_for
from inlayfit.findings import Finding
from inlayfit.layout import LaidBlank, Layout, middle_of
from inlayfit.recipe import Fit
from inlayfit.toolpath import Cut, Heights, Move, backwards, clearing, minutes_of, profile
from inlayfit.units import Mm, format_mm

PART = "the part"

DEEP = 3.0
"""Deeper than so many diameters small bits have rarely teeth (common practice, no source)."""

WOOD = "wood"
"""The kind of what the pockets are cut into."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Program:
    """One file for the machine: a bit, its speeds, and all that it cuts; `bottom` is the lowest that its tip goes, mm.

    `of` is what lies on the machine, `origin` where x and y start there, `file` the name without its suffix.
    """

    file: str
    title: str
    of: str
    origin: str
    bit: Bit
    speeds: Speeds
    machine: Machine
    cuts: tuple[Cut, ...]
    bottom: Mm
    says: tuple[str, ...] = ()

    @property
    def moves(self) -> tuple[Move, ...]:
        """All moves, one after the other."""
        return tuple(move for cut in self.cuts for move in cut.moves)

    @property
    def minutes(self) -> float:
        """How long it takes at least: nothing is counted for speeding up and slowing down."""
        return minutes_of(self.moves, self.machine.rapid)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Asked:
    """What all programs of the blanks are made from; `numbers` are those of the pieces."""

    fit: Fit
    numbers: Sequence[str]
    cutting: Cutting

    def heights(self, top: Mm, bottom: Mm) -> Heights:
        return Heights(self.cutting.machine.safe_height, top, bottom)


def blank_programs(
    layout: Layout, fit: Fit, files: Sequence[str], cutting: Cutting
) -> tuple[list[Program], list[Finding]]:
    """Return the programs of each blank in use, and why some have none; `files` are the names of their sheets."""
    asked = _Asked(fit=fit, numbers=layout.numbers, cutting=cutting)
    programs: list[Program] = []
    findings: list[Finding] = []
    for laid, file in zip(layout.blanks, files, strict=True):
        cutter = fit.settings.cutter_of(laid.blank.stock)
        thickness = laid.blank.thickness or fit.settings.thickness_of(laid.blank.stock)
        if not isinstance(cutter, Bit):
            follow = "follow PIECE_PATH of its drawing with the saw or the beam"
            findings.append(_note(laid, fit, f"no program: a {cutter.label} is no bit", follow))
        elif thickness is None:
            measure = f"measure it: stock.{laid.blank.stock}.thickness"
            findings.append(_note(laid, fit, "no program: its thickness is not known", measure))
        else:
            pieces = _pieces_program(laid, asked, file, cutter, thickness)
            programs += _with_pockets(pieces, laid, asked)
            findings += _left_out(laid, fit)
    return programs, findings


def _left_out(laid: LaidBlank, fit: Fit) -> list[Finding]:
    """Return a note where pieces have pockets in them that no program of the blank cuts."""
    own = [pocket for one in laid.pieces for pocket in fit.pockets if pocket.host == one.piece]
    if not own:
        return []
    if any(one.mirrored for one in laid.pieces):
        return [_note(laid, fit, *FACE_DOWN)]
    if not isinstance(fit.settings.pocket_cutter, Bit):
        return [_note(laid, fit, *NO_POCKET_BIT)]
    return [] if all(pocket.zones for pocket in own) else [_note(laid, fit, *NO_DEPTH)]


FACE_DOWN = (
    "its pieces are cut face down, and the pockets in their faces are in no program",
    "cut those from the front: their paths stand in the drawing of the pieces",
)

NO_POCKET_BIT = (
    "no bit cuts the pockets in its pieces: they are in no program",
    "follow POCKET_PATH of its drawing, or name a bit: pocket.bit",
)

NO_DEPTH = (
    "pockets in its pieces are in no program: how deep they are is not known",
    "give the thickness of every stock",
)


def _pieces_program(laid: LaidBlank, asked: _Asked, file: str, bit: Bit, thickness: Mm) -> Program:
    """Return the program that cuts the pieces out of a blank."""
    machine, stock = asked.cutting.machine, laid.blank.stock
    speeds = speeds_for(bit, _kind(stock, asked.fit), asked.cutting.of(stock), machine)
    bottom = -thickness - machine.through
    back = any(one.mirrored for one in laid.pieces)
    return Program(
        file=file,
        title=f"{laid.blank.name}: its pieces{', mirrored, FROM THE BACK' if back else ''}",
        of=laid.blank.name,
        origin="the lower left corner of the blank",
        bit=bit,
        speeds=speeds,
        machine=machine,
        cuts=tuple(_outlines(laid, asked, asked.heights(0.0, bottom), speeds)),
        bottom=bottom,
        says=LOOSE,
    )


def _with_pockets(pieces: Program, laid: LaidBlank, asked: _Asked) -> list[Program]:
    """Return the program of a blank with the pockets in its pieces first, in one of their own for another bit."""
    bit = asked.fit.settings.pocket_cutter
    if not isinstance(bit, Bit):
        return [pieces]
    teeth = SpeedsAsked(teeth=asked.cutting.pocket.teeth)  # what else [pocket] says is for the wood
    kind = _kind(laid.blank.stock, asked.fit)
    speeds = pieces.speeds if bit == pieces.bit else speeds_for(bit, kind, teeth, pieces.machine)
    cuts = tuple(_pockets_in(laid, asked, speeds, bit.radius))
    if not cuts:
        return [pieces]
    if bit == pieces.bit:
        return [replace(pieces, cuts=(*cuts, *pieces.cuts))]
    pockets = replace(
        pieces,
        file=f"{pieces.file}-pockets",
        title=f"{laid.blank.name}: the pockets in its pieces",
        bit=bit,
        speeds=speeds,
        cuts=cuts,
        bottom=min(move.z for cut in cuts for move in cut.moves),
        says=("run this before the program of the pieces, with the blank where it is",),
    )
    return [pockets, pieces]


LOOSE = (
    "the pieces are cut free: stick the blank down all over, on a board that may be cut into",
    "nothing holds a piece but what it is stuck to",
)


def _kind(stock: str, fit: Fit) -> str:
    return next(one.kind for one in fit.settings.all_stocks if one.name == stock)


def _outlines(laid: LaidBlank, asked: _Asked, heights: Heights, speeds: Speeds) -> Iterator[Cut]:
    """Yield the cuts through the sheet, piece after piece: its holes, then its outline, which sets it free."""
    for one in _on_the_way(laid.pieces, lambda laid: (laid.x, laid.y)):
        piece = asked.fit.pieces[one.piece]
        rings = [lying(ring, one, middle_of(piece)) for ring in piece.path_arcs]
        for ring in sorted(rings, key=ring_area):  # holes run clockwise: their areas are below nought
            what = "outline" if ring_area(ring) > 0 else "hole"
            path = backwards(ring) if asked.cutting.machine.direction == "climb" else ring
            yield Cut(label=f"{asked.numbers[one.piece]} {what}", moves=tuple(profile(path, heights, speeds)))


_Thing = TypeVar("_Thing")


def _on_the_way(things: Sequence[_Thing], place: Callable[[_Thing], tuple[Mm, Mm]]) -> Iterator[_Thing]:
    """Yield things by their places, from the origin on always the nearest; of two alike the first."""
    left, here = list(things), (0.0, 0.0)
    while left:
        nearest = min(range(len(left)), key=lambda index: math.dist(here, place(left[index])))
        here = place(left[nearest])
        yield left.pop(nearest)


def _pockets_in(laid: LaidBlank, asked: _Asked, speeds: Speeds, radius: Mm) -> Iterator[Cut]:
    """Yield the cuts of the pockets in the faces of pieces that lie with their faces up."""
    face_up = [one for one in laid.pieces if not one.mirrored]
    for one in _on_the_way(face_up, lambda laid: (laid.x, laid.y)):
        middle = middle_of(asked.fit.pieces[one.piece])
        for pocket in asked.fit.pockets:
            if pocket.host == one.piece:
                zones = [(zone, tuple(lying(ring, one, middle) for ring in zone.path_arcs)) for zone in pocket.zones]
                inside = " ".join(asked.numbers[index] for index in pocket.pieces)
                label = f"{asked.numbers[one.piece]} pocket for {inside}"
                yield from _cleared(label, zones, speeds, radius, asked.cutting.machine)


def _cleared(
    label: str, zones: Sequence[tuple[Zone, tuple[ArcRing, ...]]], speeds: Speeds, radius: Mm, machine: Machine
) -> Iterator[Cut]:
    """Yield the cuts of a pocket: all of it to its least depth, then each step from there."""
    top = 0.0
    for zone, walls in zones:
        heights = Heights(machine.safe_height, top, -zone.depth)
        for moves in clearing(walls, radius, heights, speeds, reverse=machine.direction != "climb"):
            yield Cut(label=f"{label}, {format_mm(zone.depth)} deep", moves=tuple(moves))
        top = -zone.depth


def part_program(fit: Fit, cutting: Cutting) -> Program | None:
    """Return the program of the pockets in the wood, None where a depth is not known or no bit cuts them."""
    pockets = [pocket for pocket in fit.pockets if pocket.host is None]
    bit, machine = fit.settings.pocket_cutter, cutting.machine
    if not isinstance(bit, Bit) or not pockets or not all(pocket.zones for pocket in pockets):
        return None
    speeds = speeds_for(bit, WOOD, cutting.pocket, machine)
    cuts = [
        cut
        for pocket in _on_the_way(pockets, lambda pocket: tuple(pocket.path_arcs[0].points[0].tolist()))
        for cut in _cleared(pocket.name, [(zone, zone.path_arcs) for zone in pocket.zones], speeds, bit.radius, machine)
    ]
    return Program(
        file="pockets",
        title="the pockets in the wood",
        of=PART,
        origin="that of the drawing of the pockets",
        bit=bit,
        speeds=speeds,
        machine=machine,
        cuts=tuple(cuts),
        bottom=min(-zone.depth for pocket in pockets for zone in pocket.zones),
        says=("the upper face of the wood must lie level: it is cut to one depth from there",),
    )


def deep_remarks(programs: Sequence[Program], fit: Fit) -> list[Finding]:
    """Return notes on programs that go deeper than small bits have teeth, in the middle of the drawing."""
    left, bottom, right, top = fit.drawing.bounds
    return [
        Finding(
            kind="deep-cut",
            severity="note",
            part="pocket" if program.of == PART else "blank",
            name=program.of,
            x=(left + right) / 2,
            y=(bottom + top) / 2,
            message=f"the {program.bit.label} goes {format_mm(-program.bottom, 2)} deep: "
            f"{-program.bottom / program.bit.diameter:.1f} times its diameter",
            remedy="see that its teeth are as long, or take thinner stock",
            size_mm=-program.bottom,
        )
        for program in programs
        if -program.bottom > DEEP * program.bit.diameter
    ]


def _note(laid: LaidBlank, fit: Fit, message: str, remedy: str) -> Finding:
    x, y = middle_of(fit.pieces[laid.pieces[0].piece])
    return Finding(
        kind="no-program",
        severity="note",
        part="blank",
        name=laid.blank.name,
        x=x,
        y=y,
        message=message,
        remedy=remedy,
    )
