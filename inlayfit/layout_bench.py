"""The pieces of one stock onto its blanks: as few blanks as can be, each piece exactly where it may lie."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray

from inlayfit.layout_raster import Grid, grid_of
from inlayfit.layout_search import Item, Spot, Stencils, anywhere, pack, pose_of
from inlayfit.layout_settle import Poses, Room, settled
from inlayfit.layout_tight import Bed, tightened
from inlayfit.units import Mm

FINENESS = 128
"""Pixels along the longest side of a blank; twice as many cost five times the time and gain no blank (tried)."""

ACROSS = 12
"""Pixels across a piece of middling size at least, so that large sheets with small pieces are not too coarse."""

LEAST_STEP: Mm = 0.2
"""Side of a pixel at least: pieces push each other the rest of the way."""

MOST_PIXELS = 400
"""Pixels along the longest side at most."""

EASY_ORDERS, ORDERS, ATTEMPTS = 3, 18, 3
"""First packings, each in another order: those that must come out by themselves, and those that are pressed in each
of several attempts: most that come out do so early."""

CHANCE = (0.5, 1.0)
"""By how much, at least and at most, the area of a piece counts for its place in the order."""

HOPELESS = 0.92
"""Mixed shapes fill no blank to this share (0.895 was the most that was found): nothing is sought there."""

COARSE = 1.6
"""Side of a pixel where pieces are moved by hand and then press each other, by that of the first packings."""

ROUGH, FINE = 0.06, 0.01
"""By how much outlines are simplified while the moves are sifted, and for those that count, mm."""

SPARE: Mm = 0.001
"""So much more room than there must be is sought, so that the exact poses come to rest."""

NEARLY = 0.02
"""Press, mm2, from which on pieces may push each other free."""

MANY = 90
"""Pieces of all attempts together: of many pieces fewer attempts are made, as each takes longer."""

FAR = 0.15
"""Press, mm2, over which at the end of an attempt no other one is made."""

LESS = 0.4
"""Only what is pressed this much less than before is worth another try to push free."""

CAREFUL, EASY, TIGHT = 0.75, 0.3, 0.0
"""Pixels by which zones are grown. The first needs no push: a pixel reaches 0.71 of its side from its middle. The
last fills most, and comes to rest less often."""

GATHER = 0.6
"""How much the far end of a blank is shunned where there is room enough: what is left over should hang together."""

TURNS = 16
"""Angles of a piece that may lie any way, the first with its longest side along the blank."""

ZONE_QUARTER = 8
"""Chords in a quarter of the round of a zone: it guides the search alone."""

ZONE_TOLERANCE: Mm = 0.02
"""How far the outline behind a zone may be off: it guides the search alone."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """A piece to be laid: `outline` with its middle at the origin, `turns` the angles it may have (None: any)."""

    outline: shapely.Polygon
    turns: tuple[float, ...] | None
    small: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground:
    """What the pieces lie on: the area of a blank, and how near to its edge an outline may come, mm."""

    area: shapely.Polygon
    edge: Mm


@dataclass(frozen=True, slots=True, kw_only=True)
class Lying:
    """A piece on a ground: numbers of both, and the pose."""

    need: int
    ground: int
    x: Mm
    y: Mm
    angle: float


def lay_needs(needs: Sequence[Need], grounds: Sequence[Ground], between: Mm) -> tuple[list[Lying], list[int]]:
    """Return where the pieces lie, on as few grounds as were found, and the numbers of those that have no place.

    Args:
        needs: the pieces.
        grounds: the blanks; the largest are used first.
        between: the least distance between two outlines, mm.
    """
    if not needs or not grounds:
        return [], list(range(len(needs)))
    bench = _bench(needs, grounds, between)
    homes = [need for need in range(len(needs)) if _has_home(bench, need, len(grounds))]
    if len(homes) < len(needs):
        lying, _ = lay_needs([needs[need] for need in homes], grounds, between)
        lying = [replace(one, need=homes[one.need]) for one in lying]
        return lying, sorted({*range(len(needs))} - {one.need for one in lying})
    found = _on(bench, len(grounds))
    if found is None:
        poses = _as_many_as_fit(bench)
        return _lying(bench, poses), [need for need in range(len(needs)) if need not in poses]
    while (fewer := max(ground for ground, _ in found.values())) >= bench.least_grounds:
        better = _on(bench, fewer)
        if better is None:
            break
        found = better
    return _thrifty(bench, _lying(bench, found)), []


def _has_home(bench: _Bench, need: int, count: int) -> bool:
    """Return whether a piece alone goes onto one of the first so many grounds: exactly, where pixels cannot tell."""
    kinds = {id(grid): ground for ground, grid in enumerate(bench.stencils[CAREFUL].grids[:count])}
    if any(bool(bench.stencils[CAREFUL].within(need, ground).any()) for ground in kinds.values()):
        return True
    tight = bench.stencils[TIGHT]
    spots = [anywhere(tight, need, ground) for ground in kinds.values()]
    return any(spot is not None and _settled(bench, tight, {need: spot}) is not None for spot in spots)


def _thrifty(bench: _Bench, lying: list[Lying]) -> list[Lying]:
    """Return the same on smaller blanks where what lies on a large one goes onto a small one that is still free."""
    areas = dict(zip(bench.names, bench.usable, strict=True))
    of = dict(zip(bench.names, bench.grounds, strict=True))
    for ground in sorted({one.ground for one in lying}, key=lambda name: areas[name]):
        held = [one.need for one in lying if one.ground == ground]
        zones = sum(bench.stencils[TIGHT].items[need].zone.area for need in held)
        free = [name for name in areas if all(one.ground != name for one in lying)]
        for name in sorted(free, key=lambda name: areas[name]):
            if zones <= HOPELESS * areas[name] and areas[name] < areas[ground]:
                other, left = lay_needs([bench.needs[need] for need in held], [of[name]], bench.between)
                if not left:
                    moved = [replace(one, need=held[one.need], ground=name) for one in other]
                    lying = [*(one for one in lying if one.ground != ground), *moved]
                    break
    return lying


@dataclass(frozen=True, slots=True, kw_only=True)
class _Bench:
    """All that the search works with; `grounds` from the largest, `names` their numbers as they came."""

    needs: Sequence[Need]
    grounds: Sequence[Ground]
    names: Sequence[int]
    between: Mm
    stencils: Mapping[float, Stencils]
    usable: Sequence[float]
    zones: float

    @property
    def least_grounds(self) -> int:
        """How many grounds the areas alone ask for."""
        return min(int(np.searchsorted(np.cumsum(self.usable), self.zones)) + 1, len(self.grounds))


_Poses = Mapping[int, tuple[int, NDArray[np.float64]]]
"""For the number of a need that of its ground, and x, y and angle."""


def _bench(needs: Sequence[Need], grounds: Sequence[Ground], between: Mm) -> _Bench:
    rooms = [usable_area(ground, between) for ground in grounds]
    names = sorted(range(len(grounds)), key=lambda number: -rooms[number].area)
    items = [_item(need, between) for need in needs]
    step = _step([rooms[name] for name in names if not rooms[name].is_empty], items)
    grids: dict[bytes, Grid] = {}
    for room in rooms:
        if room.wkb not in grids:
            grids[room.wkb] = grid_of(room, step)
    of_grounds = [grids[rooms[name].wkb] for name in names]
    return _Bench(
        needs=needs,
        grounds=[grounds[name] for name in names],
        names=names,
        between=between,
        stencils={
            growth: Stencils([_grown(item, growth * step) for item in items], of_grounds)
            for growth in (CAREFUL, EASY, TIGHT)
        },
        usable=[rooms[name].area for name in names],
        zones=sum(item.zone.area for item in items),
    )


def usable_area(ground: Ground, between: Mm) -> shapely.Geometry:
    """Return what the zones of the pieces, grown by half of what lies between two, may cover of a ground."""
    return shapely.buffer(ground.area, between / 2 - ground.edge, quad_segs=ZONE_QUARTER)


def _item(need: Need, between: Mm) -> Item:
    thin = shapely.simplify(need.outline, ZONE_TOLERANCE)
    zone = shapely.buffer(thin, between / 2, quad_segs=ZONE_QUARTER)
    return Item(zone=zone, angles=_any_way(zone) if need.turns is None else need.turns, small=need.small)


def _any_way(zone: shapely.Polygon) -> tuple[float, ...]:
    """Return angles all round, the first of which lays the longer side of the least rectangle along x."""
    corners = shapely.get_coordinates(shapely.minimum_rotated_rectangle(zone))
    x, y = max(np.diff(corners[:3], axis=0).tolist(), key=lambda side: math.hypot(*side))
    return tuple(2 * math.pi * number / TURNS - math.atan2(y, x) for number in range(TURNS))


def _step(rooms: Sequence[shapely.Geometry], items: Sequence[Item]) -> Mm:
    bounds = shapely.bounds(rooms).reshape(-1, 4)
    longest = float((bounds[:, 2:] - bounds[:, :2]).max(initial=1.0))
    middling = math.sqrt(float(np.median([item.zone.area for item in items])))
    return max(min(longest / FINENESS, middling / ACROSS), longest / MOST_PIXELS, LEAST_STEP)


def _on(bench: _Bench, count: int) -> _Poses | None:
    """Return the poses of all pieces on the first so many grounds, if there are any such.

    First the easy ways, each packed until it fails; then, from many first packings, what is left over is pressed in.
    """
    if not all(_has_home(bench, need, count) for need in range(len(bench.needs))):
        return None
    for growth, stencils in bench.stencils.items():
        for order in _orders(stencils.items, EASY_ORDERS):
            spots, left = pack(stencils, order, count, gather=GATHER if growth == CAREFUL else 0.0)
            if not left and (poses := _settled(bench, stencils, spots)) is not None:
                return poses
    if bench.zones > HOPELESS * sum(bench.usable[:count]):
        return None
    return _pressed_free(bench, count)


def _pressed_free(bench: _Bench, count: int) -> _Poses | None:
    """Return the poses of all pieces from many first packings, pressed until they push each other free, if they do."""
    bed = _bed(bench, count)
    orders = list(_orders(bed.stencils.items, ATTEMPTS * ORDERS))
    for attempt in range(min(ATTEMPTS, max(1, MANY // len(bench.needs)))):
        firsts = [pack(bed.stencils, order, count)[0] for order in orders[attempt::ATTEMPTS]]
        nearest = NEARLY
        press = math.inf
        for lot in tightened(bed, firsts, np.random.default_rng(attempt)):
            press = lot.press
            if press < nearest:
                nearest = press * LESS
                about = dict(enumerate(zip(lot.ground.tolist(), lot.poses, strict=True)))
                if (poses := _exact(bench, about)) is not None:
                    return poses
        if press > FAR:
            return None
    return None


def _bed(bench: _Bench, count: int) -> Bed:
    """Return what the pieces are pressed on: the first so many grounds, with coarser pixels than those of packing."""
    rooms: dict[int, Room] = {}
    grids: dict[int, Grid] = {}
    tight = bench.stencils[TIGHT]
    for ground, grid in zip(bench.grounds[:count], tight.grids, strict=False):
        if id(grid) not in grids:
            grids[id(grid)] = grid_of(usable_area(ground, bench.between), grid.step * COARSE)
            rooms[id(grid)] = _room(bench, ground, SPARE)
    outlines = np.array([need.outline for need in bench.needs], dtype=object)
    kinds = [id(grid) for grid in tight.grids[:count]]
    return Bed(
        rough=shapely.simplify(outlines, ROUGH),
        fine=shapely.simplify(outlines, FINE),
        stencils=Stencils(tight.items, [grids[kind] for kind in kinds]),
        rooms=[rooms[kind] for kind in kinds],
        turning=all(need.turns is None for need in bench.needs),
    )


def _orders(items: Sequence[Item], count: int) -> Iterator[list[int]]:
    """Yield orders of laying: large pieces first, then long ones, then large ones with some chance."""
    areas = np.array([item.zone.area for item in items])
    spans = np.array([max(item.zone.bounds) - min(item.zone.bounds) for item in items])
    rng = np.random.default_rng(0)
    yield np.argsort(-areas, kind="stable").tolist()
    yield np.argsort(-spans, kind="stable").tolist()
    for _ in range(count - 2):
        yield np.argsort(-areas * rng.uniform(*CHANCE, len(areas)), kind="stable").tolist()


def _settled(bench: _Bench, stencils: Stencils, spots: Mapping[int, Spot]) -> _Poses | None:
    """Return the exact poses of pieces that lie about right in pixels, if they come to rest on every ground."""
    return _exact(bench, {item: (spot.blank, np.array(pose_of(stencils, item, spot))) for item, spot in spots.items()})


def _exact(bench: _Bench, about: _Poses) -> _Poses | None:
    """Return the exact poses of pieces that lie about right, if they come to rest on every ground."""
    poses: dict[int, tuple[int, NDArray[np.float64]]] = {}
    for ground in sorted({ground for ground, _ in about.values()}):
        items = [item for item, (own, _) in sorted(about.items()) if own == ground]
        rest = _at_rest(bench, items, ground, np.array([about[item][1] for item in items]))
        if rest is None:
            return None
        poses |= {item: (ground, pose) for item, pose in zip(items, rest, strict=True)}
    return poses


def _at_rest(bench: _Bench, items: Sequence[int], ground: int, poses: Poses) -> Poses | None:
    needs = [bench.needs[item] for item in items]
    turning = all(need.turns is None for need in needs)
    return settled([need.outline for need in needs], poses, _room(bench, bench.grounds[ground]), turning=turning)


def _room(bench: _Bench, ground: Ground, spare: Mm = 0.0) -> Room:
    """Return the room that must stay free on a ground, and so much more."""
    return Room(between=bench.between + spare, edge=ground.edge + spare, walls=shapely.boundary(ground.area))


def _as_many_as_fit(bench: _Bench) -> _Poses:
    """Return the poses of as much as goes onto all grounds."""
    best: _Poses = {}
    for stencils in bench.stencils.values():
        for order in _orders(stencils.items, EASY_ORDERS):
            spots, _ = pack(stencils, order, len(bench.grounds))
            if len(spots) > len(best) and (poses := _settled(bench, stencils, spots)) is not None:
                best = poses
    return best


def _grown(item: Item, by: Mm) -> Item:
    return Item(zone=shapely.buffer(item.zone, by, quad_segs=ZONE_QUARTER), angles=item.angles, small=item.small)


def _lying(bench: _Bench, poses: _Poses) -> list[Lying]:
    return [
        Lying(need=need, ground=bench.names[ground], x=float(x), y=float(y), angle=float(angle))
        for need, (ground, (x, y, angle)) in sorted(poses.items())
    ]
