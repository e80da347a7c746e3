"""A layout on the reference lane: its track on the ball, its holes, and the path it makes."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from clients import drilling, fits, inches, layouts
from clients.drilling import rg_about_axis_in
from clients.drilling.holes import ASSUMED_BRIDGE_IN
from clients.drilling_sheet import THIN_WALL_IN, DrillingSheet, drilling_sheet
from clients.models import Client, Layout
from lanes.ball_picture import MIDLINE, BallView, arc, axis_side, grip_side, meridian
from lanes.cover_law import law_words, shops_settling
from lanes.locker import spec_of
from lanes.motion import BallSpec, Release, RigidPath
from lanes.motion.flare import clearance_in
from lanes.motion.friction import SurfaceLaw
from lanes.motion.geometry import HEAD_PIN_FT
from lanes.motion.orientation import Orientation
from lanes.motion.reference import LAST_FT, MIDDLE, REFERENCE_VERSION, on_reference_lane
from lanes.section_picture import SectionPicture, section_pictures

# A track is a strip about a quarter inch wide: nearer than half of that it runs over the edge.
OVER_IN = 0.125
CLOSE_IN = 0.5  # a release that scatters gets there (assumed)
# Two surfaces to hold a layout against: a dull one and a fine one, both unpolished (our choice).
SURFACES = (500, 3000)

_RELEASE = {
    "speed_mph": ("speed", "mph"),
    "rev_rpm": ("rev rate", "rpm"),
    "rotation_deg": ("rotation", "deg"),
    "tilt_deg": ("tilt", "deg"),
}
_FACTS = {"rg_in": "RG", "differential_in": "differential", "mass_lb": "weight"}


@dataclass(frozen=True)
class HoleClearance:
    """How far the nearest ring of the flare passes from a hole's edge."""

    name: str
    clearance_in: float

    @property
    def verdict(self) -> str:
        if self.clearance_in < OVER_IN:
            return "over the hole"
        return "close" if self.clearance_in < CLOSE_IN else "clear"


@dataclass(frozen=True)
class Effect:
    """One ball's figures on the reference lane at this client's release; ``None`` not reached."""

    label: str
    hook_start_ft: float | None
    last_20ft_boards: float | None
    entry_angle_deg: float | None
    flare_in: float

    @classmethod
    def of(cls, label: str, path: RigidPath) -> Effect:
        moved = None
        if path.gutter_at_ft is None:
            then = float(np.interp(HEAD_PIN_FT - LAST_FT, path.path_ft, path.path_board))
            moved = float(path.path_board[-1]) - then
        return cls(label, path.hook_start_ft, moved, path.entry_angle_deg, path.flare_in)


@dataclass(frozen=True)
class LayoutSheet:
    """Everything that a sheet shows of one layout.

    ``problem`` says why nothing is computed on the reference lane, where that is so; the geometry,
    the holes and the weights are there all the same.
    """

    layout: Layout
    geometry: drilling.Layout
    drilling: DrillingSheet
    rg_about_axis_in: float | None
    release_words: str
    assumed: str
    path: RigidPath | None
    problem: str
    clearances: list[HoleClearance]
    effects: list[Effect]
    surfaces: list[Effect]
    law_words: str

    version = REFERENCE_VERSION

    @cached_property
    def views(self) -> list[BallView]:
        return _views(self)

    @cached_property
    def sections(self) -> list[SectionPicture]:
        return _sections(self)

    @property
    def warned(self) -> list[HoleClearance]:
        return [one for one in self.clearances if one.verdict != "clear"]

    @property
    def layouts_spread(self) -> float | None:
        """How far the layouts lie apart in the last 20 ft, boards; ``None`` with only one."""
        return _spread(self.effects) if len(self.effects) > 1 else None

    @property
    def surfaces_spread(self) -> float | None:
        return _spread(self.surfaces)

    @property
    def surface_matters_more(self) -> bool:
        layouts_, surfaces = self.layouts_spread, self.surfaces_spread
        return layouts_ is not None and surfaces is not None and surfaces > layouts_


def layout_sheet(layout: Layout) -> LayoutSheet:
    """Return the sheet of a layout: ``ball__client`` and ``fit`` are best fetched with it."""
    told = layouts.geometry(layout)
    ball = layout.ball
    bench = drilling_sheet(layout)
    spec = replace(spec_of(ball), pin_to_pap_in=None, angle_at_pin_deg=None, angle_at_pap_deg=None)
    full = spec.filled()
    release, words, assumed = _release(ball.client, spec)
    settling = shops_settling()
    law = settling.law
    path, problem, effects, surfaces = None, "", [], []
    try:
        path = on_reference_lane(spec, release, orientation(told), law)
        effects = _effects(layout, spec, release, path, law)
        surfaces = [
            Effect.of(
                f"at {grit} grit",
                on_reference_lane(
                    replace(spec, grit=grit, polished=False, games=0.0),
                    release,
                    orientation(told),
                    law,
                ),
            )
            for grit in SURFACES
        ]
    except ValueError as error:
        problem = str(error)
    if spec.intermediate_in and told.mass_bias is None and not problem:
        problem = "a ball with an intermediate differential has a mass bias; its place is needed"
        path, effects, surfaces = None, [], []
    clearances = []
    if path and bench.holes:
        rings = path.rings.until(path.roll_start_ft)
        edges = np.array([hole.edge_in for hole in bench.holes])
        gaps = clearance_in(rings, np.array([hole.mouth for hole in bench.holes]), edges)
        clearances = [
            HoleClearance(hole.name, float(gap))
            for hole, gap in zip(bench.holes, gaps, strict=True)
        ]
    assert full.rg_in is not None
    assert full.differential_in is not None
    about = rg_about_axis_in(told, full.rg_in, full.differential_in, full.intermediate_in or 0.0)
    known = spec.rg_in is not None and spec.differential_in is not None
    return LayoutSheet(
        layout,
        told,
        bench,
        about if known else None,
        words,
        assumed,
        path,
        problem,
        clearances,
        effects,
        surfaces,
        law_words(settling),
    )


def orientation(told: drilling.Layout) -> Orientation:
    """Return a layout's orientation in the frame of the grip centre.

    Without a mass bias the two larger moments are equal: any direction square to the pin will do.
    """
    pin = told.pin.vector()
    if told.mass_bias is not None:
        bias = told.mass_bias.vector()
    else:
        bias = np.cross(pin, np.eye(3)[int(np.argmin(np.abs(pin)))])
    return Orientation(told.pap.vector(), pin, bias)


def _release(client: Client, spec: BallSpec) -> tuple[Release, str, str]:
    """Return the client's release on the reference line, in words, and what is assumed."""
    values = {name: getattr(client, name) for name in _RELEASE}
    missing = [label for name, (label, _) in _RELEASE.items() if values[name] is None]
    if client.hook == Client.Hook.BACKUP and values["rotation_deg"] is not None:
        values["rotation_deg"] = -values["rotation_deg"]
    known = {name: value for name, value in values.items() if value is not None}
    release = replace(MIDDLE, **known)
    words = ", ".join(
        f"{label} {getattr(release, name):g} {unit}" for name, (label, unit) in _RELEASE.items()
    )
    assumed = [f"the client's {', '.join(missing)}: ordinary"] if missing else []
    full = spec.filled()
    facts = []
    for name in spec.assumed:
        if name != "pin_to_pap_in":  # the layout tells that
            value = getattr(full, name)
            told = value if isinstance(value, str) else f"{value:g}"
            facts.append(f"{_FACTS.get(name, name)} {told}")
    if facts:
        assumed.append(f"the ball's {', '.join(facts)}")
    return release, words, "; ".join(assumed)


def _effects(
    layout: Layout, spec: BallSpec, release: Release, path: RigidPath, law: SurfaceLaw
) -> list[Effect]:
    """Return this ball under this layout and under the client's other ones in force."""
    others = (
        Layout.objects.filter(ball__client=layout.ball.client_id, replaced_on=None)
        .exclude(drilled_on=None)
        .exclude(pk=layout.pk)
        .select_related("ball")
        .order_by("ball__name", "pk")
    )
    effects = [Effect.of("this layout", path)]
    for other in others:
        told = layouts.geometry(other)
        if spec.intermediate_in and told.mass_bias is None:
            continue
        label = "the layout it has now" if other.ball_id == layout.ball_id else str(other.ball)
        if other.ball_id != layout.ball_id:
            label = f"laid out as {label}"
        effects.append(Effect.of(label, on_reference_lane(spec, release, orientation(told), law)))
    return effects


def _spread(effects: list[Effect]) -> float | None:
    boards = [one.last_20ft_boards for one in effects if one.last_20ft_boards is not None]
    return max(boards) - min(boards) if len(boards) > 1 else None


def _views(sheet: LayoutSheet) -> list[BallView]:
    layout, told = sheet.layout, sheet.geometry
    left = layout.ball.client.hand == Client.Hand.LEFT
    thumb = layout.fit is None or any(drill.name == "thumb" for drill in fits.drills(layout.fit))
    views = [
        grip_side(left_handed=left, key=f"grip-{layout.pk}"),
        axis_side(told.pap, left_handed=left, key=f"axis-{layout.pk}"),
    ]
    for view in views:
        view.add_line(MIDLINE, "midline")
        view.add_line(meridian(drilling.Place(0.0, 0.0)), "centre-line")
        view.add_line(meridian(told.pap), "val")
        if sheet.path:
            view.add_rings(sheet.path.rings.until(sheet.path.roll_start_ft))
        view.add_line(arc(told.pin.vector(), told.pap.vector()), "arc")
        if told.mass_bias:
            view.add_line(arc(told.pin.vector(), told.mass_bias.vector()), "arc")
        view.add_holes(sheet.drilling.holes)
        centre = drilling.Place(0.0, 0.0)
        view.add_mark(told.pap, "pap", "PAP")
        view.add_mark(told.pin, "pin", "pin")
        if told.mass_bias:
            view.add_mark(told.mass_bias, "bias", "mass bias")
        if layout.cg_over_in is not None and layout.cg_up_in is not None:
            view.add_mark(drilling.Place(layout.cg_over_in, layout.cg_up_in), "cg", "CG")
        view.add_mark(centre, "grip" if thumb else "palm", "grip centre" if thumb else "palm mark")
        view.description = _in_words(sheet, view.title, left)
    return views


def _sections(sheet: LayoutSheet) -> list[SectionPicture]:
    layout, bench = sheet.layout, sheet.drilling
    if layout.fit is None:
        return []
    told = layout.fit.bridge_in
    bridge = f"bridge {inches.fraction(ASSUMED_BRIDGE_IN if told is None else told)} in"
    marks = {"pin": sheet.geometry.pin}
    if layout.cg_over_in is not None and layout.cg_up_in is not None:
        marks["CG"] = drilling.Place(layout.cg_over_in, layout.cg_up_in)
    return section_pictures(
        bench.holes,
        bench.walls,
        fits.drills(layout.fit),
        bridge=bridge if told is not None else f"{bridge}, assumed",
        marks=marks,
        left_handed=layout.ball.client.hand == Client.Hand.LEFT,
        thin_in=THIN_WALL_IN,
        key=f"cut-{layout.pk}",
    )


def _in_words(sheet: LayoutSheet, title: str, left: bool) -> str:
    told = sheet.geometry
    side = "left" if left else "right"
    words = [
        f"{title} of a {side}-hander's ball, the axis side to the {side} of the grip.",
        f"Pin {_place(told.pin)}, PAP {_place(told.pap)}.",
    ]
    if told.mass_bias:
        words.append(f"Mass bias {_place(told.mass_bias)}.")
    if sheet.path:
        words.append(f"Track flare {sheet.path.flare_in:.1f} in.")
    return " ".join(words)


def _place(place: drilling.Place) -> str:
    up = f"{place.up_in:.2f} in up" if place.up_in >= 0 else f"{-place.up_in:.2f} in down"
    return f"{place.over_in:.2f} in over and {up}"
