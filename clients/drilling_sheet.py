"""What the press needs of a layout: the holes in the ball, walls, static weights, limits."""

from __future__ import annotations

from dataclasses import dataclass, field

from django.utils import timezone

from clients import fits, limits
from clients.drilling import (
    Hole,
    HoleError,
    Place,
    StaticWeights,
    Wall,
    after_drilling,
    before_drilling,
    mean_density_g_cm3,
    place_holes,
    walls,
)
from clients.drilling.holes import ASSUMED_BRIDGE_IN
from clients.drilling.rules import Finding
from clients.drilling.sphere import distance_in
from clients.models import Client, FitSheet, Layout

# Under this a wall may break out (common practice, no source; the shop's own eye decides).
THIN_WALL_IN = 0.125


@dataclass(frozen=True)
class DrillingSheet:
    """``notes`` says what is assumed, and what cannot be told and why."""

    holes: list[Hole] = field(default_factory=list)
    walls: list[Wall] = field(default_factory=list)
    before: StaticWeights | None = None
    after: StaticWeights | None = None
    density_g_cm3: float | None = None
    findings: list[Finding] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    # Names of the holes whose drill cuts the pin's mark.
    through_pin: list[str] = field(default_factory=list)

    @property
    def thin_walls(self) -> list[Wall]:
        return [wall for wall in self.walls if wall.thinnest_in < THIN_WALL_IN]


def drilling_sheet(layout: Layout) -> DrillingSheet:
    """Return holes, walls and static weights of a layout with its fit sheet.

    Limits are those in force on the day of drilling, today where it is not drilled.
    """
    ball, fit = layout.ball, layout.fit
    notes: list[str] = []
    holes = _holes(fit, layout, notes)
    before = _before(layout, notes)
    density = layout.density_g_cm3
    if density is None and ball.mass_lb is not None:
        density = mean_density_g_cm3(ball.mass_lb)
    after = None
    if before and holes:
        if any(hole.depth_in is None for hole in holes):
            notes.append("After drilling needs the depth of every hole, on the fit sheet.")
        elif density is None:
            notes.append(
                "After drilling needs the ball's weight, or the density of what is drilled."
            )
        else:
            after = after_drilling(before, holes, density)
            if layout.density_g_cm3 is None:
                notes.append(
                    f"What is drilled is taken for the ball's mean, {density:.2f} g/cm³; inserts, "
                    "slugs and drill points are left out."
                )
    findings = []
    if holes:
        findings = limits.of_drilling(
            ball,
            holes=len(holes),
            thumb=any(hole.name == "thumb" for hole in holes),
            weights=after,
            on=layout.drilled_on or timezone.localdate(),
        )
    pin = Place(layout.pin_over_in, layout.pin_up_in).vector()
    through = [h.name for h in holes if distance_in(h.mouth, pin, h.around_in) < h.edge_in]
    return DrillingSheet(holes, walls(holes), before, after, density, findings, notes, through)


def _holes(fit: FitSheet | None, layout: Layout, notes: list[str]) -> list[Hole]:
    if fit is None:
        notes.append("Holes, walls and static weights after drilling need a fit sheet.")
        return []
    right = layout.ball.client.hand == Client.Hand.RIGHT
    drills = fits.drills(fit)
    if fit.bridge_in is None and len([d for d in drills if d.name != "thumb"]) == 2:
        notes.append(f"No bridge on the fit sheet: {ASSUMED_BRIDGE_IN:g} in is assumed.")
    try:
        return place_holes(drills, bridge_in=fit.bridge_in, right_handed=right)
    except HoleError as error:
        notes.append(f"The holes cannot be placed: {error} on the fit sheet.")
        return []


def _before(layout: Layout, notes: list[str]) -> StaticWeights | None:
    known = (layout.cg_over_in, layout.cg_up_in, layout.top_weight_oz)
    if layout.cg_over_in is None or layout.cg_up_in is None or layout.top_weight_oz is None:
        if any(value is not None for value in known):
            notes.append("Static weights need the CG's place and the top weight, both.")
        else:
            notes.append("Static weights need the CG's place and the top weight on the box.")
        return None
    return before_drilling(Place(layout.cg_over_in, layout.cg_up_in), layout.top_weight_oz)
