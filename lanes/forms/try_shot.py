"""Trying a shot: the release, the oil, who bowled before, and up to four balls.

The form's whole state is the address. What an address leaves out is filled from the client that it
names, or with an ordinary release; what it holds is kept as typed, right or wrong.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from django import forms
from django.forms.utils import ErrorDict, ErrorList

from clients.forms.fields import MeasureField
from clients.models import Ball, Client
from clients.models.people import between
from lanes.games import on_surface_now
from lanes.locker import spec_with
from lanes.models import Pattern
from lanes.motion import COVERS, BallSpec, Release, launch_for_target
from lanes.motion.balls import LIMITS as BALL_LIMITS
from lanes.motion.friction import SurfaceLaw
from lanes.motion.oil import Oil
from lanes.motion.path import LIMITS as RELEASE_LIMITS
from lanes.pictures import DASHES
from lanes.try_shot import MOST_BALLS, MOST_BEFORE, Trial

DESCRIBED = "new"  # in place of a locker ball's key
SLOTS = tuple(f"b{number}-ball" for number in range(1, MOST_BALLS + 1))
RELEASE = ("speed_mph", "rev_rpm", "rotation_deg", "tilt_deg")
LINE = ("laydown", "target")
BEFORE = ("own", "right", "left")
# An ordinary release on the house pattern's usual line (assumed), where nobody says otherwise.
ORDINARY = {
    "hand": "right",
    "speed_mph": 17.5,
    "rev_rpm": 350.0,
    "rotation_deg": 55.0,
    "tilt_deg": 12.0,
    "laydown": 20.0,
    "target": 12.5,
}
# Two covers side by side to begin with: the page shows what it is for.
FIRST_BALLS = ({"ball": DESCRIBED, "cover": "solid"}, {"ball": DESCRIBED, "cover": "pearl"})


class SliderField(MeasureField):
    """A number that also has a slider; `low`, `high`, `step` and `unit` are for its template."""

    def __init__(
        self, label: str, limits: tuple[float, float], unit: str, step: float, **kwargs: Any
    ) -> None:
        self.low, self.high = limits
        self.unit, self.step = unit, step
        expected = f"Expected {self.low:g} to {self.high:g} {unit}."
        super().__init__(
            label=label,
            validators=between(self.low, self.high, unit),
            error_messages={"required": expected},
            **kwargs,
        )


class CountField(SliderField):
    """A whole number with a slider; empty is none."""

    widget = forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"})

    def __init__(self, label: str, most: int, **kwargs: Any) -> None:
        super().__init__(label, (0, most), "balls", 1, required=False, **kwargs)

    def clean(self, value: Any) -> int:
        number = super().clean(value) or 0
        if number != int(number):
            raise forms.ValidationError("Expected a whole number.")
        return int(number)


def _fact(name: str, label: str, unit: str, help_text: str = "") -> MeasureField:
    low, high = BALL_LIMITS[name]
    return MeasureField(
        label=f"{label}, {unit}" if unit else label,
        required=False,
        validators=between(low, high, unit or "grit"),
        help_text=help_text,
    )


class BallForm(forms.Form):
    """One ball: from a locker or described. A fact that is typed goes before the locker's."""

    ball = forms.ChoiceField(label="Ball", required=False)
    cover = forms.ChoiceField(label="Cover", required=False)
    grit = _fact("grit", "Last grit", "")
    polished = forms.ChoiceField(label="Polish", required=False)
    games = _fact("games", "Games since", "games", "Since the surface was made.")
    rg_in = _fact("rg_in", "RG", "in")
    differential_in = _fact("differential_in", "Differential", "in")
    intermediate_in = _fact("intermediate_in", "Intermediate", "in")
    pin_to_pap_in = _fact("pin_to_pap_in", "Pin to PAP", "in")
    angle_at_pin_deg = _fact("angle_at_pin_deg", "Angle at the pin", "deg")
    angle_at_pap_deg = _fact("angle_at_pap_deg", "Angle at the PAP", "deg")
    mass_lb = _fact("mass_lb", "Weight", "lb")

    NUMBERS = tuple(BALL_LIMITS)

    def __init__(self, data: Mapping[str, Any], *, number: int, locker: dict[str, Ball]) -> None:
        super().__init__(data, prefix=f"b{number}")
        self.number = number
        self.dash = DASHES[number - 1]
        self.chosen = locker.get(data.get(self.add_prefix("ball"), ""))
        self.games_now: float | None = None  # on the chosen ball's surface; told by the form of all
        owners = {ball.client_id for ball in locker.values()}
        self.fields["ball"].choices = [
            ("", "no ball"),
            (DESCRIBED, "describe one"),
            *(
                (key, f"{ball} of {ball.client}" if len(owners) > 1 else str(ball))
                for key, ball in locker.items()
            ),
        ]
        self.fields["cover"].choices = [("", "not said"), *((cover, cover) for cover in COVERS)]
        self.fields["polished"].choices = [
            ("", "not said"),
            ("yes", "polished"),
            ("no", "not polished"),
        ]

    @property
    def is_there(self) -> bool:
        return bool(self.data.get(self.add_prefix("ball")))

    def full_clean(self) -> None:
        """Check a ball that is there; what stands in an empty slot is kept and not judged."""
        if self.is_there:
            return super().full_clean()
        self._errors, self.cleaned_data = ErrorDict(), {}

    @property
    def surface(self) -> list[forms.BoundField]:
        """The two facts that move a path the most; they are always in view."""
        return [self["cover"], self["grit"]]

    @property
    def facts(self) -> list[forms.BoundField]:
        return [field for field in self if field.name not in ("ball", "cover", "grit")]

    @property
    def said(self) -> int:
        """How many of the folded facts are typed."""
        return sum(1 for field in self.facts if field.value())

    @property
    def is_open(self) -> bool:
        return any(field.errors for field in self.facts)

    @property
    def spec(self) -> BallSpec:
        """The ball as typed over what is written down."""
        typed = {
            name: self.cleaned_data[name]
            for name in self.NUMBERS
            if self.cleaned_data.get(name) is not None
        }
        if self.cleaned_data.get("cover"):
            typed["cover"] = self.cleaned_data["cover"]
        if self.cleaned_data.get("polished"):
            typed["polished"] = self.cleaned_data["polished"] == "yes"
        if self.chosen is None:
            known = BallSpec("")
        else:
            known = spec_with(self.chosen, self.games_now)
            if typed.get("cover") not in (None, known.cover) or "grit" in typed:
                # That was of the other surface; a typed one is fresh.
                known = replace(known, polished=None, games=None)
        spec = replace(known, **typed)
        return replace(spec, name=self._name(spec, typed))

    def _name(self, spec: BallSpec, typed: dict[str, Any]) -> str:
        name = str(self.chosen or str(spec.filled().cover).capitalize())
        polish = ", polished" if typed.get("polished") else ""
        return f"{name} at {spec.grit:g} grit{polish}" if "grit" in typed else f"{name}{polish}"

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if self.is_there and not self.errors:
            full = self.spec.filled()
            if full.intermediate_in > full.differential_in:
                self.add_error(
                    "intermediate_in",
                    f"{full.intermediate_in:g} in is more than the differential; expected at most "
                    f"{full.differential_in:g} in.",
                )
        return cleaned


@dataclass(frozen=True)
class Wrong:
    """A field at fault: where it is, what it is called, what was expected."""

    place: str
    label: str
    message: str


class TryForm(forms.Form):
    client = forms.ChoiceField(label="Client", required=False)
    hand = forms.ChoiceField(
        label="Hand", choices=Client.Hand, widget=forms.RadioSelect(attrs={"class": "hand"})
    )
    speed_mph = SliderField("Speed", RELEASE_LIMITS["speed_mph"], "mph", 0.1)
    rev_rpm = SliderField("Rev rate", RELEASE_LIMITS["rev_rpm"], "rpm", 5)
    rotation_deg = SliderField(
        "Axis rotation",
        RELEASE_LIMITS["rotation_deg"],
        "deg",
        1,
        help_text="Below 0 is a back-up ball.",
    )
    tilt_deg = SliderField("Axis tilt", RELEASE_LIMITS["tilt_deg"], "deg", 1)
    laydown = SliderField("Laydown", RELEASE_LIMITS["laydown"], "board", 0.5)
    target = SliderField("Target at the arrows", RELEASE_LIMITS["laydown"], "board", 0.5)
    oil = forms.ChoiceField(label="Oil", required=False)
    own = CountField("On the bowler's own line", MOST_BEFORE)
    right = CountField("By right-handed bowlers", MOST_BEFORE)
    left = CountField("By left-handed bowlers", MOST_BEFORE)

    def __init__(
        self,
        asked: Mapping[str, str],
        *,
        clients: Iterable[Client],
        client: Client | None,
        knows_release: bool,
        patterns: Iterable[Pattern],
        locker: Iterable[Ball],
    ) -> None:
        balls = {str(ball.pk): ball for ball in locker}
        own = [ball for ball in balls.values() if client and ball.client_id == client.pk]
        known = _release_of(client) if client and knows_release else {}
        # What the client's page does not say, and an ordinary release had to.
        self.assumed = [
            str(self.base_fields[name].label)
            for name in RELEASE
            if client and name not in asked and name not in known
        ]
        start = ORDINARY | dict.fromkeys(BEFORE, 0) | known
        if not any(slot in asked for slot in SLOTS):
            start |= _first_balls(own)
        data = {name: _text(value) for name, value in start.items()} | dict(asked)
        super().__init__(data)
        self.fields["client"].choices = [
            ("", "nobody in particular"),
            *((one.pk, one.name) for one in clients),
        ]
        self.fields["oil"].choices = [
            ("", "ordinary house (assumed)"),
            *((sheet.pk, str(sheet)) for sheet in patterns),
        ]
        self.balls = [
            BallForm(data, number=number, locker=balls) for number in range(1, MOST_BALLS + 1)
        ]
        games = on_surface_now({form.chosen for form in self.balls if form.chosen})
        for form in self.balls:
            form.games_now = games.get(form.chosen.pk) if form.chosen else None

    @property
    def line(self) -> list[forms.BoundField]:
        return [self[name] for name in (*RELEASE, *LINE)]

    @property
    def before(self) -> list[forms.BoundField]:
        return [self[name] for name in BEFORE]

    @property
    def wrong(self) -> list[Wrong]:
        """Every field at fault with what was expected, for the list above the answer."""
        forms = [("", self), *((f"Ball {ball.number}: ", ball) for ball in self.balls)]
        return [
            Wrong(field.id_for_label or field.auto_id, whose + field.label, " ".join(field.errors))
            for whose, form in forms
            for field in form
            if field.errors
        ]

    def is_valid(self) -> bool:
        return super().is_valid() and not any(form.errors for form in self.balls)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if not any(form.is_there for form in self.balls):
            self.balls[0].errors["ball"] = ErrorList(["Choose a ball, or describe one."])
        laydown, target = cleaned.get("laydown"), cleaned.get("target")
        if laydown is not None and target is not None:
            low, high = RELEASE_LIMITS["launch_deg"]
            launch = launch_for_target(laydown, target)
            if not low <= launch <= high:
                self.add_error(
                    "target",
                    f"From board {laydown:g} that is a launch of {abs(launch):.1f} deg; expected "
                    f"at most {high:g} deg either way.",
                )
        return cleaned

    def trial(self, oil: Oil | None, law: SurfaceLaw) -> Trial:
        """Return what is asked, once the form is valid; ``law`` is how covers settle here."""
        data = self.cleaned_data
        release = Release(
            **{name: data[name] for name in RELEASE},
            laydown=data["laydown"],
            launch_deg=launch_for_target(data["laydown"], data["target"]),
        )
        there = [form for form in self.balls if form.is_there]
        return Trial(
            release=release,
            target=data["target"],
            balls=_told_apart([form.spec for form in there]),
            slots=tuple(form.number for form in there),
            hand=data["hand"],
            oil=oil,
            own_before=data["own"],
            right_before=data["right"],
            left_before=data["left"],
            law=law,
        )


def _first_balls(own: list[Ball]) -> dict[str, Any]:
    """Return the slots where the address names no ball: the client's own, or two described."""
    in_use = [ball for ball in own if ball.retired_at is None and not ball.is_spare_ball]
    chosen = [{"ball": ball.pk} for ball in in_use[:MOST_BALLS]] or FIRST_BALLS
    return {
        f"b{number}-{name}": value
        for number, slot in enumerate(chosen, start=1)
        for name, value in slot.items()
    }


def _release_of(client: Client) -> dict[str, Any]:
    """Return what is written down of a client's release, in the model's signs."""
    known = {name: value for name in RELEASE if (value := getattr(client, name)) is not None}
    if client.hook == Client.Hook.BACKUP and "rotation_deg" in known:
        known["rotation_deg"] = -abs(known["rotation_deg"])
    return {"hand": client.hand} | known


def _text(value: Any) -> str:
    return f"{value:g}" if isinstance(value, float) else str(value)


def _told_apart(specs: list[BallSpec]) -> tuple[BallSpec, ...]:
    """Give balls of one name a number each."""
    names: dict[str, int] = {}
    apart = []
    for spec in specs:
        names[spec.name] = seen = names.get(spec.name, 0) + 1
        apart.append(spec if seen == 1 else replace(spec, name=f"{spec.name} ({seen})"))
    return tuple(apart)
