"""The stranger who judges a fit: from the paths alone, with another offset engine, against the drawing.

Nothing of the package is imported. A fit is whatever has `pieces` (outline, path, pocket, layer, colour), `pockets`
(outline, path, pieces) and `findings` (severity, x, y); a drawing whatever has `regions` (polygon, layer, colour).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import asdict, dataclass, field
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from tests.swept import as_cut_piece, as_cut_pocket, grown

OVERLAP_LIMIT = 1e-4
"""mm2 of a piece outside its pocket, or of two pieces in one place."""
HOLE_LIMIT = 0.01
"""mm2 of a shared pocket that no piece fills."""
MEETING = 1.5
"""Where channels meet no spot lies further from all pieces than this many gaps: 1.12 at a square joint to the wall."""
EVEN = 0.002
"""A gap this near to the one asked for is even, mm."""
EVEN_SHARE = 0.9999
"""Of the length of the seam, away from findings."""
NAMED_WITHIN = 1.5
"""A place this near to a finding is named by it, mm."""
EXCUSES = ("uneven-gap", "junction")
"""Findings that only say that the gap is not even: they excuse no gap that is not."""
OUTLINE_LIMIT = 0.001
"""The outline may lie this far from what the path leaves, mm."""
SLACK = 0.003
"""For places: their tolerance is judged with this much to spare, mm, so that rounding decides nothing."""
CRACK = 0.01
"""A crack of the drawing that is narrower, mm, is no loss where it is filled: only a place that must be named."""
STEP = 0.02
"""Between samples along a seam, mm."""
HAIR = 0.001
"""What is nowhere twice as wide as this is no place but a crack between two outlines that touch, mm."""

Points = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Failure:
    """One promise that was not kept: `kind`, the place, and by how much."""

    kind: str
    x: float
    y: float
    amount: float
    text: str

    def as_dict(self) -> dict[str, Any]:
        """Return it for a line of JSON."""
        return asdict(self)


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What the fit was asked for; radii as the cutter really cuts, mm; `radii` by stock, where stocks differ."""

    piece_radius: float
    pocket_radius: float
    gap: float
    gap_from: str = "piece"
    tolerance: float = 0.05
    joint: float | None = None
    radii: Mapping[str, float] = field(default_factory=dict)

    def radius_of(self, piece: Any) -> float:
        """What goes round a piece: by its stock, where stocks have cutters of their own."""
        return self.radii.get(piece.stock, self.piece_radius) if self.radii else self.piece_radius

    @property
    def widest(self) -> float:
        """Half of the widest cutter."""
        return max([self.piece_radius if not self.radii else 0.0, self.pocket_radius, *self.radii.values()])

    @property
    def joint_gap(self) -> float:
        """Between two pieces."""
        return self.gap if self.joint is None else self.joint

    @property
    def pocket_gap(self) -> float:
        """The share of the gap that the pocket gives."""
        return {"piece": 0.0, "shared": self.gap / 2, "pocket": self.gap}[self.gap_from]


@dataclass(frozen=True, slots=True, kw_only=True)
class Judgement:
    """What was measured; an empty `failures` means that every promise was kept."""

    failures: tuple[Failure, ...]
    even_share: float
    even_share_everywhere: float
    seam_mm: float
    gap_least: float
    gap_most: float
    outline_error_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Gaps:
    """Samples along the walls: `points` (n, 2), `gaps`, `off` (from what was asked there) and `lengths` (n,), mm."""

    points: Points
    gaps: Points
    off: Points
    lengths: Points

    def where(self, keep: NDArray[np.bool_]) -> Gaps:
        """Return the samples that are kept."""
        return Gaps(points=self.points[keep], gaps=self.gaps[keep], off=self.off[keep], lengths=self.lengths[keep])

    def even_share(self) -> float:
        """Return the share of the length whose gap is the one asked for."""
        whole = self.lengths.sum()
        return float(self.lengths[np.abs(self.off) <= EVEN].sum() / whole) if whole else 1.0


def judge(fit: Any, drawing: Any, asked: Asked) -> Judgement:
    """Measure a fit from outside.

    Raises:
        Exception: only where the paths are no lines at all; everything else is a failure in the result.
    """
    pieces = [as_cut_piece(piece.path, asked.radius_of(piece)) for piece in fit.pieces]
    pockets = [as_cut_pocket(pocket.path, asked.pocket_radius) for pocket in fit.pockets]
    marks = np.array([(f.x, f.y) for f in fit.findings]).reshape(-1, 2)
    shape = list(malformed(fit))
    outlines = list(outline_errors(fit, pieces, pockets))
    failures = [*shape, *(error for error in outlines if error.amount > OUTLINE_LIMIT)]
    failures += outside_pocket(fit, pieces, pockets)
    for own in _levels(fit):
        inside = [index for number in own for index in fit.pockets[number].pieces]
        failures += overlaps("pieces overlap", [pieces[index] for index in inside], shapely.Polygon())
        failures += overlaps("pockets overlap", [pockets[number] for number in own], _around(marks))
    failures += places(fit, drawing, (pieces, pockets), marks, asked)
    failures += holes(fit, pieces, pockets, marks, asked)
    seams = _joined([gaps_along(fit, pieces, pockets, number, asked) for number in range(len(fit.pockets))])
    shapes = np.array([(f.x, f.y) for f in fit.findings if f.kind not in EXCUSES]).reshape(-1, 2)
    away = seams.where(_distance_to(shapes, seams.points) > NAMED_WITHIN)
    failures += uneven(away)
    return Judgement(
        failures=tuple(failures),
        even_share=away.even_share(),
        even_share_everywhere=seams.even_share(),
        seam_mm=float(seams.lengths.sum()),
        gap_least=float(seams.gaps.min(initial=np.inf)),
        gap_most=float(seams.gaps.max(initial=-np.inf)),
        outline_error_mm=max((error.amount for error in outlines), default=0.0),
    )


def _levels(fit: Any) -> list[list[int]]:
    """Return the numbers of the pockets in the wood, and of those in each piece, which lie over the wood's."""
    levels: dict[Any, list[int]] = {}
    for number, pocket in enumerate(fit.pockets):
        levels.setdefault(getattr(pocket, "host", None), []).append(number)
    return list(levels.values())


def malformed(fit: Any) -> Iterator[Failure]:
    """Yield every outline that is empty or invalid, every path that is not closed, and indices that do not agree."""
    for part, items in (("piece", fit.pieces), ("pocket", fit.pockets)):
        for number, item in enumerate(items):
            name = f"{part} {number}"
            if item.outline.is_empty or not item.outline.is_valid:
                yield _failure("malformed", item.outline, 0.0, f"{name}: {shapely.is_valid_reason(item.outline)}")
            lines = shapely.get_parts(item.path)
            if len(lines) == 0 or not all(line.is_closed for line in lines):
                yield _failure("malformed", item.path, 0.0, f"{name}: its path is not closed")
    for number, pocket in enumerate(fit.pockets):
        if not pocket.pieces or any(fit.pieces[index].pocket != number for index in pocket.pieces):
            yield _failure("malformed", pocket.outline, 0.0, f"pocket {number}: its pieces do not know it")
    if sorted(index for pocket in fit.pockets for index in pocket.pieces) != list(range(len(fit.pieces))):
        yield _failure("malformed", None, 0.0, "a piece has no pocket, or two")


def outline_errors(fit: Any, pieces: list[Any], pockets: list[Any]) -> Iterator[Failure]:
    """Yield, for every part, how far its outline lies from what its path leaves, either way."""
    named = [("piece", item, cut) for item, cut in zip(fit.pieces, pieces, strict=True)]
    named += [("pocket", item, cut) for item, cut in zip(fit.pockets, pockets, strict=True)]
    for part, item, cut in named:
        if cut.is_empty or item.outline.is_empty:
            yield _failure("outline", item.path, np.inf, f"{part}: outline or cut is empty")
            continue
        one, two = _samples(item.outline, STEP).points, _samples(cut, STEP).points
        far_one, far_two = _distance(cut.boundary, one), _distance(item.outline.boundary, two)
        points, far = np.concatenate([one, two]), np.concatenate([far_one, far_two])
        worst = int(far.argmax())
        text = f"{part}: outline and path differ by {far[worst] * 1000:.2f} um"
        yield Failure(kind="outline", x=points[worst, 0], y=points[worst, 1], amount=float(far[worst]), text=text)


def outside_pocket(fit: Any, pieces: list[Any], pockets: list[Any]) -> Iterator[Failure]:
    """Yield every piece of which some stands outside its pocket."""
    for number, (piece, cut) in enumerate(zip(fit.pieces, pieces, strict=True)):
        over = shapely.difference(cut, pockets[piece.pocket])
        if over.area > OVERLAP_LIMIT:
            yield _failure("outside", over, over.area, f"piece {number} stands {over.area:.5f} mm2 out of its pocket")


def overlaps(kind: str, parts: list[Any], named: Any) -> Iterator[Failure]:
    """Yield every two parts that claim the same place, unless that place is `named` by a finding."""
    if len(parts) < 2:
        return
    tree = shapely.STRtree(parts)
    for one, two in tree.query(parts, predicate="intersects").T:
        shared = shapely.intersection(parts[one], parts[two]) if one < two else shapely.Polygon()
        shared = shapely.difference(shared, named)
        if shared.area > OVERLAP_LIMIT:
            yield _failure(kind, shared, shared.area, f"{kind}: {one} and {two} share {shared.area:.5f} mm2")


def holes(fit: Any, pieces: list[Any], pockets: list[Any], marks: Points, asked: Asked) -> Iterator[Failure]:
    """Yield what no piece fills: where a spot lies further from all pieces than where channels meet."""
    wide = max(asked.gap, asked.joint_gap)
    named = _around(marks)
    for number, pocket in enumerate(pockets):
        own = shapely.union_all([pieces[index] for index in fit.pockets[number].pieces])
        core = shapely.difference(pocket, own.buffer(MEETING * wide + EVEN, quad_segs=64))
        room = shapely.difference(shapely.intersection(core.buffer(MEETING * wide, quad_segs=32), pocket), own)
        for hole in shapely.get_parts(room):
            if hole.area > HOLE_LIMIT and not hole.intersects(named):
                yield _failure("hole", hole, hole.area, f"pocket {number}: no piece fills {hole.area:.4f} mm2")


def gaps_along(fit: Any, pieces: list[Any], pockets: list[Any], number: int, asked: Asked) -> Gaps:
    """Return the gaps of one pocket, seen from every piece and from the wall.

    From a piece to the nearest of wall and neighbours, from the wall to the nearest piece. Where three of them meet
    the channels open into one another and the gap has no one width: such samples are left out.
    """
    bodies = [pockets[number], *(pieces[index] for index in fit.pockets[number].pieces)]
    parts = [_gaps_of(bodies, own, asked) for own in range(len(bodies)) if not bodies[own].is_empty]
    return _joined(parts)


def _gaps_of(bodies: list[Any], own: int, asked: Asked) -> Gaps:
    samples = _samples(bodies[own], STEP)
    others = [body.boundary for index, body in enumerate(bodies) if index not in (own, 0) and not body.is_empty]
    far = _distance(shapely.geometrycollections(others), samples.points) if others else np.inf * samples.lengths
    if own == 0:
        off = far - asked.gap
    else:
        wall = _distance(bodies[0].boundary, samples.points)
        wall = np.where(shapely.contains_xy(bodies[0], samples.points[:, 0], samples.points[:, 1]), wall, -wall)
        between = far - asked.joint_gap
        off, far = np.minimum(wall - asked.gap, between), np.where(between < wall - asked.gap, far, wall)
        others.append(bodies[0].boundary)
    if not others:
        return samples.where(np.zeros(len(samples.gaps), dtype=bool))
    seen = Gaps(points=samples.points, gaps=far, off=off, lengths=samples.lengths)
    if len(others) == 1:
        return seen
    return seen.where(~_at_junction(others, samples.points, 3 * max(asked.gap, asked.joint_gap)))


def _at_junction(others: list[Any], points: Points, within: float) -> NDArray[np.bool_]:
    near = shapely.STRtree(others).query(shapely.points(points), predicate="dwithin", distance=within)
    return np.bincount(near[0], minlength=len(points)) > 1


def uneven(gaps: Gaps) -> Iterator[Failure]:
    """Yield the worst place where too little of the seam, away from findings, has the gap that was asked for."""
    share = gaps.even_share()
    if share < EVEN_SHARE:
        worst = int(np.abs(gaps.off).argmax())
        bad = float(gaps.lengths[np.abs(gaps.off) > EVEN].sum())
        text = f"even over {share:.4%} ({bad:.3f} mm are not); off by {gaps.off[worst] * 1000:.1f} um at worst"
        x, y = gaps.points[worst]
        yield Failure(kind="uneven", x=float(x), y=float(y), amount=1 - share, text=text)


def places(fit: Any, drawing: Any, cuts: tuple[list[Any], list[Any]], marks: Points, asked: Asked) -> Iterator[Failure]:
    """Yield every place that differs from the drawing without a finding, and every loss that is nowhere to be seen."""
    pieces, pockets = cuts
    seen = _seen(drawing)
    drawn = shapely.union_all([region.polygon for region in drawing.regions])
    cut = shapely.union_all(pockets)
    named = _around(marks)
    for change, parts in differences(drawn, cut, asked, asked.tolerance + SLACK):
        for part in _beyond(parts, named):
            yield _failure(
                "unnamed", part, part.area, f"{change}, by more than the tolerance; no finding within 1.5 mm"
            )
    for stock, parts in strange_material(fit, seen, (pieces, cut), asked, asked.tolerance + SLACK):
        for part in _beyond(parts, named):
            yield _failure("material", part, part.area, f"stock {stock!r} is missing; no finding within 1.5 mm")
    losses, all_heavy = _losses(fit)
    heavy = asked.widest + 2 * SLACK
    shut = drawn.buffer(CRACK / 2).buffer(-CRACK / 2)  # what fills one lies no further than that off the drawing
    for change, parts in differences(shut, cut, asked, heavy):
        for part in _beyond(parts, _around(all_heavy)):
            yield _failure("understated", part, part.area, f"{change}, beyond a bit radius; no loss within 1.5 mm")
    inner = strange_material(fit, seen, (pieces, cut), asked, asked.tolerance - SLACK)
    outer = differences(drawn, cut, asked, asked.tolerance - SLACK)
    yield from _placeless(losses, shapely.union_all([parts for _, parts in (*inner, *outer)]))


def _losses(fit: Any) -> tuple[Points, Points]:
    """Return the marks that are losses, and all marks of the sites that are."""
    sites = {f.site for f in fit.findings if f.severity == "loss" and f.site is not None}
    losses = [(f.x, f.y) for f in fit.findings if f.severity == "loss"]
    all_heavy = [(f.x, f.y) for f in fit.findings if f.severity == "loss" or f.site in sites]
    return np.array(losses).reshape(-1, 2), np.array(all_heavy).reshape(-1, 2)


def _placeless(losses: Points, real: Any) -> Iterator[Failure]:
    for x, y in losses:
        far = real.distance(shapely.Point(x, y)) if not real.is_empty else np.inf
        if far > NAMED_WITHIN:
            text = f"a loss is reported; the nearest difference is {far:.2f} mm away"
            yield Failure(kind="placeless", x=float(x), y=float(y), amount=float(far), text=text)


def differences(drawn: Any, cut: Any, asked: Asked, beyond: float) -> Iterator[tuple[str, Any]]:
    """Yield what is drawn and over `beyond` mm away from all that is cut; what is not, and so far away from any wood.

    The pocket's share of the gap is taken off both: it grows the drawing for the one and shrinks the cut for the other.
    """
    wanted = grown(drawn, asked.pocket_gap) if asked.pocket_gap else drawn
    yield "not cut", shapely.difference(wanted, cut.buffer(beyond, quad_segs=64))
    yield "cut too far", shapely.difference(cut.buffer(-asked.pocket_gap - beyond, quad_segs=64), drawn)


def strange_material(
    fit: Any, seen: dict[tuple[str, str], list[Any]], cuts: tuple[list[Any], Any], asked: Asked, beyond: float
) -> Iterator[tuple[str, Any]]:
    """Yield, for every stock, where it is drawn and cut, and yet over `beyond` mm (and the gap) away from its pieces.

    The upper of two regions is the one that is seen. What is not cut at all is the affair of `differences`.
    """
    pieces, cut = cuts
    for kind, drawn in seen.items():
        own = [body for piece, body in zip(fit.pieces, pieces, strict=True) if (piece.layer, piece.colour) == kind]
        filled = shapely.union_all(own).buffer(beyond + max(asked.gap, asked.joint_gap), quad_segs=64)
        yield "/".join(kind), shapely.difference(shapely.intersection(shapely.union_all(drawn), cut), filled)


def _seen(drawing: Any) -> dict[tuple[str, str], list[Any]]:
    """Return what is seen of every stock, by layer and colour."""
    seen: dict[tuple[str, str], list[Any]] = {}
    covered: Any = shapely.Polygon()
    for region in reversed(drawing.regions):
        seen.setdefault((region.layer, region.colour), []).append(shapely.difference(region.polygon, covered))
        covered = shapely.union(covered, region.polygon)
    return seen


def _beyond(parts: Any, named: Any) -> list[Any]:
    left = shapely.get_parts(shapely.difference(parts, named))
    return [part for part in left if not part.buffer(-HAIR).is_empty]


def _around(marks: Points) -> Any:
    return (
        shapely.union_all(shapely.buffer(shapely.points(marks), NAMED_WITHIN, quad_segs=32))
        if len(marks)
        else shapely.Polygon()
    )


def _samples(area: Any, step: float) -> Gaps:
    """Middles of pieces of the boundary no longer than `step`, with the length each stands for; gaps are nought."""
    lines = shapely.get_parts(shapely.segmentize(area.boundary, step))
    starts = np.concatenate([shapely.get_coordinates(line)[:-1] for line in lines])
    ends = np.concatenate([shapely.get_coordinates(line)[1:] for line in lines])
    lengths = np.hypot(*(ends - starts).T)
    return Gaps(points=(starts + ends) / 2, gaps=np.zeros(len(lengths)), off=np.zeros(len(lengths)), lengths=lengths)


def _distance(lines: Any, points: Points) -> Points:
    """Distance of every point to the nearest segment, by a tree: exact, and not n times m."""
    coords = [shapely.get_coordinates(line) for line in _single_lines(lines)]
    pairs = np.concatenate([np.stack([ring[:-1], ring[1:]], axis=1) for ring in coords])
    tree = shapely.STRtree(shapely.linestrings(pairs))
    (asking, _), far = tree.query_nearest(shapely.points(points), return_distance=True, all_matches=False)
    found = np.empty(len(points))
    found[asking] = far
    return found


def _single_lines(geometry: Any) -> Iterator[Any]:
    for part in shapely.get_parts(geometry):
        if part.geom_type.startswith("Multi"):
            yield from _single_lines(part)
        else:
            yield part


def _distance_to(marks: Points, points: Points) -> Points:
    if len(marks) == 0:
        return np.full(len(points), np.inf)
    tree = shapely.STRtree(shapely.points(marks))
    return np.asarray(tree.query_nearest(shapely.points(points), return_distance=True, all_matches=False)[1])


def _joined(parts: list[Gaps]) -> Gaps:
    if not parts:
        return Gaps(points=np.empty((0, 2)), gaps=np.empty(0), off=np.empty(0), lengths=np.empty(0))
    return Gaps(
        points=np.concatenate([part.points for part in parts]),
        gaps=np.concatenate([part.gaps for part in parts]),
        off=np.concatenate([part.off for part in parts]),
        lengths=np.concatenate([part.lengths for part in parts]),
    )


def _failure(kind: str, place: Any, amount: float, text: str) -> Failure:
    spot = shapely.Point() if place is None or place.is_empty else place.representative_point()
    x, y = (spot.x, spot.y) if not spot.is_empty else (float("nan"), float("nan"))
    return Failure(kind=kind, x=x, y=y, amount=float(amount), text=text)


def failure_lines(failures: Iterable[Failure]) -> str:
    """Return the failures as a table for the screen."""
    return "\n".join(f"  {f.kind:11} at {f.x:8.3f}, {f.y:8.3f}: {f.text}" for f in failures)
