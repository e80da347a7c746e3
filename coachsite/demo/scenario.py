"""Who and what the demo is about. All of it is invented."""

from __future__ import annotations

from dataclasses import dataclass

# Addresses that can never receive a letter (RFC 2606 keeps .invalid for this).
DOMAIN = "demo.invalid"


@dataclass(frozen=True)
class Person:
    name: str
    roles: tuple[str, ...]
    login: str = ""  # a user name instead of an e-mail

    @property
    def email(self) -> str:
        return f"{self.name.split()[0].lower()}@{DOMAIN}"


ORLA = Person("Orla Tennfjord", ("owner", "coach"))
BASIL = Person("Basil Okonwe", ("coach",))
PETRA = Person("Petra Halvane", ("operator",))
KLARA = Person("Klara Birdsong", ("guardian",))
STAFF = (ORLA, BASIL, PETRA)


@dataclass(frozen=True)
class Bowler:
    """A client's release as it truly is, and how much it scatters (one sd)."""

    name: str
    coach: Person | None
    hand: str
    style: str
    speed_mph: float
    rev_rpm: float
    rotation_deg: float
    tilt_deg: float
    laydown_sd: float
    launch_sd_deg: float
    speed_sd_mph: float
    account: bool = False
    minor: bool = False
    hook: str = "usual"
    knows_release: bool = True  # whether anybody has measured it
    notes: str = ""


BOWLERS = (
    Bowler("Juno Abelard", ORLA, "right", "one", 17.4, 340, 55, 12, 0.5, 0.14, 0.25, account=True,
           notes="Gets quick at the line when it counts."),
    Bowler("Ravi Thistlewood", ORLA, "right", "two", 17.9, 440, 50, 9, 0.7, 0.17, 0.30,
           account=True),
    Bowler("Lotte Birdsong", ORLA, "left", "one", 15.6, 280, 45, 11, 0.8, 0.22, 0.35, account=True,
           minor=True, notes="Eleven years old. Short lessons, games at the end."),
    Bowler("Teodor Plimsoll", ORLA, "left", "one", 17.1, 330, 60, 14, 0.6, 0.15, 0.25),
    Bowler("Greta Obuya", ORLA, "right", "one", 16.4, 300, 50, 13, 0.6, 0.19, 0.30, account=True),
    Bowler("Caspar Lindwurm", ORLA, "right", "two", 18.3, 450, 45, 8, 0.9, 0.24, 0.40,
           knows_release=False, notes="New: no release measured yet."),
    Bowler("Ada Merrivale", ORLA, "right", "one", 15.9, 270, 62, 16, 0.5, 0.16, 0.25),
    Bowler("Noor Ashgrove", BASIL, "right", "one", 17.7, 370, 58, 12, 0.5, 0.14, 0.25,
           account=True),
    Bowler("Hugo Pennifold", BASIL, "right", "one", 18.1, 390, 48, 10, 0.6, 0.15, 0.30),
    Bowler("Sofia Drakeley", BASIL, "left", "two", 16.8, 400, 52, 9, 0.7, 0.19, 0.30),
    Bowler("Emil Wharram", BASIL, "right", "one", 16.9, 310, 65, 15, 0.7, 0.19, 0.30),
    Bowler("Kofi Tamsin", BASIL, "right", "one", 17.5, 350, 55, 12, 0.5, 0.15, 0.25),
    Bowler("Mina Corvane", BASIL, "right", "one", 16.2, 290, 40, 10, 0.8, 0.21, 0.35,
           knows_release=False),
    Bowler("Ivo Harrowgate", None, "right", "one", 17.0, 320, 55, 12, 0.7, 0.19, 0.30,
           notes="Walk-in: comes to the shop, has no coach."),
)  # fmt: skip


@dataclass(frozen=True)
class Model:
    """A kind of ball, from a maker that does not exist."""

    name: str
    cover: str
    rg_in: float
    differential_in: float
    intermediate_in: float
    grits: tuple[tuple[int, bool], ...]  # surfaces it may wear: grit, polished


MODELS = (
    Model("Copper Kettle", "solid", 2.49, 0.050, 0.0, ((1000, False), (2000, False))),
    Model("Slow Lantern", "solid", 2.52, 0.046, 0.012, ((2000, False), (3000, False))),
    Model("Paper Heron", "hybrid", 2.51, 0.044, 0.0, ((2000, False), (4000, False))),
    Model("Tin Orchard", "hybrid", 2.54, 0.038, 0.0, ((3000, False), (3000, True))),
    Model("Glass Ferry", "pearl", 2.53, 0.040, 0.0, ((3000, True), (4000, False), (4000, True))),
    Model("Night Barley", "pearl", 2.50, 0.048, 0.014, ((3000, True), (4000, True))),
    Model("Chalk Meadow", "urethane", 2.57, 0.022, 0.0, ((1000, False), (500, False))),
)
SPARE_BALL = Model("Plain Button", "plastic", 2.68, 0.008, 0.0, ((4000, True),))
BALLS = 45  # over all clients; each has a main ball, a second one and, most of them, a spare ball

CENTRES = (
    ("Quillmere Bowl", "Quillmere", 24, "release"),
    ("Bracken Row Lanes", "Ostwick", 16, "unknown"),
)

# Pattern sheets as rows of the pattern-sheet file; boards from the left edge.
_HEADER = "layer,direction,from_ft,to_ft,first_board,last_board,ml\n"
PATTERNS = {
    "Quillmere house 41": _HEADER
    + "1,forward,0,41,2,38,9.3\n2,forward,0,34,8,32,6.7\n3,forward,2,30,11,29,5.0\n"
    + "4,reverse,8,38,10,30,4.6\n5,reverse,4,30,12,28,4.1\n",
    "Bracken house 40": _HEADER
    + "1,forward,0,40,2,38,9.6\n2,forward,0,32,7,33,6.0\n3,forward,4,28,10,30,5.3\n"
    + "4,reverse,6,36,10,30,4.3\n5,reverse,6,26,13,27,3.4\n",
    "Even Heath 38": _HEADER
    + "1,forward,0,38,2,38,10.8\n2,forward,0,30,5,35,6.0\n3,forward,2,24,9,31,3.1\n"
    + "4,reverse,8,34,6,34,4.8\n5,reverse,6,26,10,30,2.9\n",
    "Long Causeway 44": _HEADER
    + "1,forward,0,44,2,38,6.8\n2,forward,0,38,6,34,6.5\n3,forward,4,32,10,30,4.3\n"
    + "4,reverse,10,42,8,32,5.0\n5,reverse,6,34,12,28,3.6\n",
    "Short Jetty 36": _HEADER
    + "1,forward,0,36,2,38,13.4\n2,forward,0,28,7,33,6.2\n3,forward,2,22,11,29,3.8\n"
    + "4,reverse,6,32,9,31,4.3\n",
    "Lesson oil 39": _HEADER
    + "1,forward,0,39,2,38,10.7\n2,forward,0,32,8,32,6.0\n3,reverse,8,36,9,31,5.3\n"
    + "4,reverse,4,28,12,28,3.6\n",
}

SESSIONS = 60
SHOTS = 3000

# The log-ins that `deploy/up` prints, in order of what one would try first.
STUDENT_EMAILS = {b.name: f"{b.name.split()[0].lower()}@{DOMAIN}" for b in BOWLERS if b.account}
