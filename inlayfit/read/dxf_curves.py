"""Arcs, bulges, ellipses and splines to points, with a chord error that is proved, not sampled, and the areas kept.

How many chords a curve takes, and where its inner points are moved so that the chords enclose what it does: chords.py.
Lengths are those of the caller; `tolerance` is the largest distance between curve and chord in the same unit.
Affine maps: a chord error e becomes at most e times the largest singular value of the map, so a caller that maps
the points afterwards divides its tolerance by that value (`widening`).
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from inlayfit.errors import DrawingError
from inlayfit.read.chords import ROOM, chords_for, levelled, quarters, swelling

Points = NDArray[np.float64]

MOST_STEPS = 1_000_000
"""Chords of one curve. A ring of 10 m across needs 11,000 at 0.2 um: what needs more is drawn in the wrong unit."""


def widening(matrix: Points) -> float:
    """Return the largest singular value of a 2 x 2 matrix: how much it can stretch a length."""
    return float(np.linalg.norm(matrix, 2))


def arc_steps(radius: float, sweep: float, tolerance: float) -> int:
    """Return how many equal chords keep an arc of `sweep` radians within `tolerance`.

    A chord over the angle s stays r (1 - cos(s/2)) from its arc, which is r s^2 / 8 at most. With n chords s = sweep/n,
    so n >= sweep sqrt(r / (8 tolerance)) suffices. At least one chord a third of a turn, so that a ring has an area.

    Raises:
        DrawingError: more than `MOST_STEPS`.
    """
    steps = abs(sweep) * math.sqrt(abs(radius) / (8 * tolerance))
    return _checked(max(steps, abs(sweep) * 3 / math.tau))


def _checked(steps: float) -> int:
    if not steps <= MOST_STEPS:
        raise DrawingError(
            f"a curve needs {steps:.3g} chords to be within the tolerance",
            remedy="the drawing is too large for an inlay: set its unit with --units or its size with --width",
        )
    return max(math.ceil(steps - 1e-9), 1)


def _arc_steps(radius: float, sweep: float, tolerance: float) -> tuple[Points, Points]:
    """Return the shares of the sweep, 0 to 1, at the points of an arc, and their radii in parts of the true one."""
    sweeps = np.array([sweep])
    [parts] = quarters(sweeps)
    need = abs(sweep) * math.sqrt(abs(radius) / (8 * tolerance))
    _checked(need)
    chords = chords_for(np.array([need / parts]), ROOM)
    [swell] = swelling(sweeps / parts, chords)
    steps = np.arange(parts * chords[0] + 1)
    return steps / (parts * chords[0]), np.where(steps % chords[0] == 0, 1.0, 1.0 + swell)


def ellipse_points(centre: Points, u: Points, v: Points, start: float, sweep: float, *, tolerance: float) -> Points:
    """Return points of c + u cos t + v sin t for t from `start` over `sweep` radians; shape (n + 1, 2).

    The curve is the image of a unit circle under the matrix [u v]; a chord of the unit circle is off by 1 - cos(s/2),
    the image by at most its largest singular value times that, and all areas by the same factor. A full turn ends
    exactly where it began, and a point stands on each quarter of it, so that the box around a circle is exact.
    """
    shares, radii = _arc_steps(widening(np.column_stack([u, v])), sweep, tolerance)
    angles = start + sweep * shares
    points = centre + np.outer(radii * np.cos(angles), u) + np.outer(radii * np.sin(angles), v)
    if abs(abs(sweep) - math.tau) < 1e-12:
        points[-1] = points[0]
    return points


def arc_points(centre: Points, radius: float, start: float, sweep: float, tolerance: float) -> Points:
    """Return points of a circular arc, counter-clockwise for a positive `sweep` (radians); shape (n + 1, 2)."""
    return ellipse_points(centre, np.array([radius, 0.0]), np.array([0.0, radius]), start, sweep, tolerance=tolerance)


def bulge_points(start: Points, end: Points, bulge: float, tolerance: float) -> Points:
    """Return points of the arc from `start` to `end` with the bulge tan(sweep/4); both ends are exact.

    In the frame of the chord (half length h, half sweep a) the arc is x = h sin(p) / sin(a) and
    y = 2 h sin((a + p)/2) sin((a - p)/2) / sin(a), p from -a to a. This never forms the centre, which lies far
    out for a flat arc; (sin(p), cos(p)) h / sin(a) points away from it. Bulge: DXF reference, group 42; positive is
    counter-clockwise, 1 is half a circle.
    """
    chord = end - start
    half = float(np.hypot(*chord)) / 2
    if half == 0.0 or bulge == 0.0:
        return np.array([start, end])
    sine = 2 * bulge / (1 + bulge * bulge)
    half_sweep = 2 * math.atan(bulge)
    shares, radii = _arc_steps(half / abs(sine), 2 * half_sweep, tolerance)
    turn = half_sweep * (2 * shares - 1)
    along = radii * np.sin(turn) / sine
    across = -2 * np.sin((half_sweep + turn) / 2) * np.sin((half_sweep - turn) / 2) / sine
    across -= (radii - 1) * np.cos(turn) / sine
    normal = np.array([-chord[1], chord[0]]) / 2
    points: Points = (start + end) / 2 + np.outer(along, chord / 2) + np.outer(across, normal)
    points[0], points[-1] = start, end
    return points


def bulged(rows: Points, closed: bool, tolerance: float) -> Points:
    """Return the points of a polyline of x, y, bulge; the last bulge counts only where it is closed."""
    ends = np.vstack([rows[1:, :2], rows[:1, :2]]) if closed else rows[1:, :2]
    parts = [rows[:1, :2]]
    for (x, y, bulge), end in zip(rows[: len(ends)], ends, strict=True):
        parts.append(end[None] if bulge == 0 else bulge_points(np.array([x, y]), end, float(bulge), tolerance)[1:])
    return np.concatenate(parts)


def nurbs_points(control: Points, weights: Points, knots: Points, degree: int, tolerance: float) -> Points:
    """Return points of a NURBS curve over its whole domain; shape (n, 2).

    The curve is cut exactly into rational Bezier pieces, each with homogeneous control points (A_i, w_i). On a step h
    of the parameter let A, w be the curve and A_L, w_L its linear interpolation, so that A_L/w_L runs on the chord:
        A/w - A_L/w_L = (A - A_L)/w + (A_L/w_L) (w_L - w)/w.
    A linear interpolation is off by h^2/8 times the largest second derivative, which is at most d(d-1) times the
    largest second difference of the control points; |A_L/w_L| is at most R, the largest |A_i/w_i| (convex hull,
    weights > 0). So the error is at most h^2/8 d(d-1) (max|D2 A| + R max|D2 w|) / min w; for equal weights that is
    Wang's bound.
    The origin is put amid the control points first, which makes R small.

    Raises:
        DrawingError: numbers of knots, points and weights do not match, knots fall, or a weight is not positive.
    """
    _check_nurbs(control, weights, knots, degree)
    pieces = []
    for bezier in bezier_pieces(np.column_stack([control * weights[:, None], weights]), knots, degree):
        [steps] = chords_for(np.array([_bezier_need(bezier, tolerance)]))
        points = _evaluate(bezier, np.linspace(0.0, 1.0, steps + 1))
        if steps > 1:
            begin, end = np.array([0]), np.array([steps])
            turns = _end_turn(bezier, steps), _end_turn(bezier[::-1], -steps)
            flat = levelled(points[:, 0] + 1j * points[:, 1], begin, end, turns, tolerance)
            points = np.column_stack((flat.real, flat.imag))
        pieces.append(points)
    return np.concatenate([pieces[0], *(piece[1:] for piece in pieces[1:])])


def _check_nurbs(control: Points, weights: Points, knots: Points, degree: int) -> None:
    if degree < 1 or len(control) < degree + 1 or len(knots) != len(control) + degree + 1:
        raise DrawingError(f"a spline of degree {degree} with {len(control)} points and {len(knots)} knots is not one")
    if len(weights) != len(control) or not np.all(weights > 0):
        raise DrawingError("a spline has weights that are not positive")
    if np.any(np.diff(knots) < 0) or not knots[degree] < knots[len(control)]:
        raise DrawingError("the knots of a spline do not rise")


def bezier_pieces(homogeneous: Points, knots: Points, degree: int) -> list[Points]:
    """Return the Bezier pieces of a B-spline, each of shape (degree + 1, k), by blossoming.

    Control point j of the piece over [a, b] is the blossom f(a, .., a, b, .., b) with j times b: exact up to rounding,
    for any knot vector, clamped or not. Source: L. Ramshaw, Blossoms are polar forms, CAGD 6 (1989).
    """
    domain = knots[degree : len(homogeneous) + 1]
    pieces = []
    for span in range(degree, len(homogeneous)):
        low, high = knots[span], knots[span + 1]
        if high - low <= 1e-12 * (domain[-1] - domain[0]):
            continue
        local, near = homogeneous[span - degree : span + 1], knots[span - degree + 1 : span + degree + 1]
        rows = [_blossom(local, near, [low] * (degree - j) + [high] * j) for j in range(degree + 1)]
        pieces.append(np.array(rows))
    return pieces


def _blossom(control: Points, knots: Points, arguments: list[float]) -> Points:
    """De Boor's triangle with another argument in each round; `knots` are the 2 d around the span."""
    degree = len(control) - 1
    for level, at in enumerate(arguments, start=1):
        low = knots[level - 1 : degree]
        share = ((at - low) / (knots[degree : 2 * degree - level + 1] - low))[:, None]
        control = (1 - share) * control[:-1] + share * control[1:]
    return control[0]


def _bezier_need(bezier: Points, tolerance: float) -> float:
    degree = len(bezier) - 1
    if degree < 2:
        return 0.0
    points = bezier[:, :-1] / bezier[:, -1:]
    middle = (points.min(axis=0) + points.max(axis=0)) / 2
    centred = bezier[:, :-1] - middle * bezier[:, -1:]
    bend = np.hypot(*np.diff(centred, 2, axis=0).T).max()
    bend += np.hypot(*(points - middle).T).max() * np.abs(np.diff(bezier[:, -1], 2)).max()
    need = math.sqrt(degree * (degree - 1) * float(bend / bezier[:, -1].min()) / (8 * tolerance))
    _checked(need)
    return need


def _end_turn(bezier: Points, steps: int) -> Points:
    """Return the cross product (1,) of two steps of the parameter where a curve starts.

    C' x C'' is there d^2 (d - 1) w1 w2 / w0^2 times the cross product of the first two legs (from the curvature at the
    end of a rational Bezier curve; G. Farin, Curves and Surfaces for CAGD, section on rational curves; from memory).
    """
    degree = len(bezier) - 1
    (x0, y0), (x1, y1), (x2, y2) = bezier[:3, :-1] / bezier[:3, -1:]
    w0, w1, w2 = bezier[:3, -1]
    legs = (x1 - x0) * (y2 - y1) - (y1 - y0) * (x2 - x1)
    return np.array([degree * degree * (degree - 1) * w1 * w2 / (w0 * w0) * legs / steps**3])


def _evaluate(bezier: Points, parameters: Points) -> Points:
    """De Casteljau for all parameters at once."""
    rows = np.repeat(bezier[:, None, :], len(parameters), axis=1)
    at = parameters[:, None]
    while len(rows) > 1:
        rows = (1 - at) * rows[:-1] + at * rows[1:]
    return np.asarray(rows[0][:, :-1] / rows[0][:, -1:])
