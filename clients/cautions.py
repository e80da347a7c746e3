"""What can hurt somebody at the bench, and what may break a rule: said wherever the work is.

One place for all of it, so that a ticket, a layout sheet and a surface say the same. Each sentence
has its source. The limits are those of the United States, where the sources come from: the local
codes of the place decide, and so do the people there who are trained for it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from clients.models import Ticket

Kind = Ticket.Kind


@dataclass(frozen=True)
class Caution:
    text: str
    source: str


LOCAL_CODES = Caution(
    "Local codes and trained staff decide how it is done here, and the maker's sheet of each "
    "material and each machine.",
    "house rule",
)
EYES = Caution(
    "Wear safety spectacles with side shields or goggles against what flies off, a face shield "
    "where much does.",
    "29 CFR 1910.133, ANSI/ISEA Z87.1; OSHA's table of protective equipment",
)
DUST = Caution(
    "Take the dust away at the tool or work wet, and wear breathing protection that is fitted to "
    "you: 15 mg/m3 of plain dust in all and 5 mg/m3 of the fine part are the most over 8 hours.",
    "29 CFR 1910.1000 table Z-1; 29 CFR 1910.134 for respirators",
)
ROTATING = Caution(
    "The ball or the tool turns: clamp the ball, keep hair, sleeves, jewellery and gloves away, "
    "keep the guard on, and never leave it running.",
    "general machine safety, 29 CFR 1910.212; from memory",
)
NOISE = Caution(
    "Protect your ears: over 8 hours 90 dBA is the most, and from 85 dBA on action is due.",
    "29 CFR 1910.95; the action level from memory",
)
HOLES = Caution(
    "A hole that is drilled stays: check hand, client and layout against the sheet at the press.",
    "common practice, no source",
)
SENSITISERS = Caution(
    "Plug resins with isocyanates (MDI) sensitise skin and lungs. Who is sensitised reacts every "
    "time and must not work with them. No bare skin, gloves that the resin's maker names.",
    "OSHA on isocyanates",
)
MDI = Caution(
    "Pour and cure under extraction. MDI: 0.05 mg/m3 (0.005 ppm) on average over the day and "
    "0.2 mg/m3 (0.02 ppm) at any time are the most.",
    "NIOSH, CAS 101-68-8; the ceiling is OSHA's too",
)
STYRENE = Caution(
    "Polyester plugs give off styrene, which also burns: 100 ppm over 8 hours and 200 ppm at any "
    "time are the most (OSHA), 50 ppm is recommended (NIOSH). No flame, no spark.",
    "29 CFR 1910.1000 table Z-2; NIOSH. That it burns: general knowledge",
)
CURING = Caution(
    "A plug grows hot as it cures. Let it cure for as long as its maker says before you turn or "
    "drill it.",
    "common practice, no source",
)
HEAT = Caution(
    "Warm the ball slowly and evenly, no hotter than its maker allows: a cover that is too hot "
    "cracks and burns fingers. Stay with it.",
    "common practice, no source",
)
SOLVENTS = Caution(
    "Cleaners and oil removers can burn and irritate: gloves, fresh air, no flame, and what their "
    "label says.",
    "common practice, no source",
)
GLUE = Caution(
    "Adhesives bond skin at once and their fumes sting: eye protection, fresh air, a small drop.",
    "common practice, no source",
)
WHOLE_COVER = Caution(
    "The whole cover is treated alike. Once competition has begun a surface may not be changed "
    "unless the rules allow it; the current rule book and the event's officials decide.",
    "USBC rule on altering a surface, in this form since 2019",
)
CLEANING_RULES = Caution(
    "What may be used on a ball, and when during competition, is for the current rule book and the "
    "event's officials.",
    "USBC equipment rules; no list is at hand here",
)
LIMITS = Caution(
    "Holes, weights and balance have published limits; the current rule book and the event's "
    "officials decide.",
    "USBC equipment specification",
)

FOR_WORK: dict[str, tuple[Caution, ...]] = {
    Kind.DRILL: (EYES, ROTATING, DUST, NOISE, HOLES, LIMITS, LOCAL_CODES),
    Kind.PLUG: (SENSITISERS, MDI, STYRENE, CURING, EYES, DUST, ROTATING, LIMITS, LOCAL_CODES),
    Kind.RESURFACE: (EYES, DUST, ROTATING, WHOLE_COVER, LOCAL_CODES),
    Kind.POLISH: (EYES, DUST, ROTATING, WHOLE_COVER, LOCAL_CODES),
    Kind.CLEAN: (SOLVENTS, CLEANING_RULES, LOCAL_CODES),
    Kind.OIL_OUT: (HEAT, SOLVENTS, CLEANING_RULES, LOCAL_CODES),
    Kind.INSERTS: (GLUE, EYES, ROTATING, LOCAL_CODES),
}

# What is done, in the order of the bench; common practice, no source. Printed with a box to tick.
STEPS: dict[str, tuple[str, ...]] = {
    Kind.DRILL: (
        "Name, number and ball are those of this ticket",
        "Layout sheet at hand: right hand or left, pin, grip centre, spans",
        "Marked on the ball and measured again by a second look",
        "Drilled, bevelled, inserts fitted",
        "Tried by the client, or measured against the fit sheet",
        "Weighed, and the machine cleaned",
    ),
    Kind.PLUG: (
        "Name, number and ball are those of this ticket",
        "The resin's sheet read; nobody who is sensitised pours or stands by",
        "Old inserts and grip out, holes clean and dry",
        "Extraction on; gloves that the resin's maker names, arms covered, eye protection",
        "Mixed as its maker says, poured at ______ o'clock",
        "Cured as long as its maker says, under extraction: not turned before ______",
        "Cooled; dust extraction and breathing protection on; turned flush and sanded",
        "Surface as it was, or as this ticket says",
        "Dust wiped up, not blown; resin waste as its sheet says; hands washed",
    ),
    Kind.RESURFACE: (
        "Name, number and ball are those of this ticket",
        "Cleaned before sanding",
        "Each grit over the whole cover, the same time and pressure on every side",
        "Rinsed and wiped between grits",
        "The last grit is the one on this ticket",
    ),
    Kind.POLISH: (
        "Name, number and ball are those of this ticket",
        "Cleaned, and at the grit on this ticket",
        "Polished alike all over",
        "Wiped clean, nothing left in the holes",
    ),
    Kind.CLEAN: (
        "Name, number and ball are those of this ticket",
        "Cleaned all over, holes too",
        "Wiped dry",
    ),
    Kind.OIL_OUT: (
        "Name, number and ball are those of this ticket",
        "Cleaned, inserts and tape seen to",
        "Warmed slowly, the oil wiped off as it comes",
        "Cooled slowly, looked over for cracks",
    ),
    Kind.INSERTS: (
        "Name, number and ball are those of this ticket",
        "Old inserts out, holes clean",
        "New ones as the fit sheet says",
        "Tried by the client, or measured against the fit sheet",
    ),
}


def for_work(*kinds: str) -> list[Caution]:
    """Return the cautions of this work, each once, what concerns the place and the law last."""
    return _each_once(caution for kind in kinds for caution in FOR_WORK[kind])


def _each_once(cautions: Iterable[Caution]) -> list[Caution]:
    found = list(dict.fromkeys(cautions))
    return sorted(found, key=lambda caution: caution is LOCAL_CODES)
