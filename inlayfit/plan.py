"""From the groups of a drawing to their seams; groups whose seams would run into one another become one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import shapely

from inlayfit.cells import union
from inlayfit.offset import Section, section
from inlayfit.regions import Group, parts_by_key
from inlayfit.seam import DUST, Choice, nearest_seam
from inlayfit.units import Mm


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """One pocket group: what was drawn (`area`), the `seam` that can be cut, and the choices made on the way."""

    group: Group
    area: Section
    seam: Section
    choices: tuple[Choice, ...] = ()
    joined: bool = False

    @property
    def names(self) -> str:
        """The parts' names, for the screen."""
        return ", ".join(part.name for part in self.group.parts[:3]) + (" ..." if len(self.group.parts) > 3 else "")


def plan_seams(groups: Sequence[Group], open_radius: Mm, close_radius: Mm) -> list[Plan]:
    """Return a seam for each group.

    Filling a cleft can cover a neighbour that stands in it: such groups are planned again as one, for one pocket.
    """
    plans = [_plan(group, open_radius, close_radius) for group in groups]
    while (pair := _collision(plans)) is not None:
        first, second = pair
        parts = [*plans[first].group.parts, *plans[second].group.parts]
        merged = _plan(Group(parts=parts_by_key(parts)), open_radius, close_radius, joined=True)
        plans = [plan for index, plan in enumerate(plans) if index not in pair] + [merged]
    return plans


def _plan(group: Group, open_radius: Mm, close_radius: Mm, *, joined: bool = False) -> Plan:
    area = section([part.area for part in group.parts])
    seam, choices = nearest_seam(area, open_radius, close_radius)
    return Plan(group=group, area=area, seam=seam, choices=tuple(choices), joined=joined)


def _collision(plans: Sequence[Plan]) -> tuple[int, int] | None:
    """Return the first two plans whose seams overlap by more than dust."""
    if len(plans) < 2:
        return None
    boxes = [shapely.box(*plan.seam.bounds()) if not plan.seam.is_empty() else shapely.Polygon() for plan in plans]
    first, second = shapely.STRtree(boxes).query(boxes, predicate="intersects")
    for one, other in zip(first.tolist(), second.tolist(), strict=True):
        if one < other and (plans[one].seam ^ plans[other].seam).area() > DUST**2:
            return one, other
    return None


def all_areas(plans: Sequence[Plan]) -> Section:
    """Return everything that was drawn, as one section."""
    return union([plan.area for plan in plans])
