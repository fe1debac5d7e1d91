"""Heat: what boxes, boards and wires shed, and how warm insulation, boards and fingers may get."""

from __future__ import annotations

from pdcheck.facts.origin import COMMON_PRACTICE, Limit, Origin
from pdcheck.quantities import Triple

PVC = Origin("IEC 60227, conductor in PVC at most 70 degrees C", "memory")
TOUCH = Origin("IEC 62368-1, touched for a short time", "memory")
PLUG_RISE = Origin("Type-C, contacts at most 30 K above the air at the rated current", "memory")
BARE_MODULE = Origin("bare module of 20 mm x 40 mm", "memory")

AIR = Limit("air around a build where nobody states it", 25.0, "C", COMMON_PRACTICE)
HOTTEST_COPPER = Limit("where a wire is given up: copper melts at 1085 degrees C", 1000.0, "C", Origin("", "handbook"))

PAINTED = Triple(6.0, 8.0, 10.0)
"""Heat from a plastic or painted box [W/(m2 K)], per kelvin between the air in it and around it: natural
convection and radiation from a small closed box [any heat transfer text; common practice]."""
BARE_METAL = Triple(3.0, 5.0, 6.0)
"""The same of bare shiny metal, which radiates little; common practice, no source."""
UNKNOWN_MATERIAL = Triple(BARE_METAL.min, PAINTED.typ, PAINTED.max)
"""Of a box whose material nobody states: taken as plastic, at worst as bare metal."""
VENTED = Limit("times as much heat leaves a box with vents", 2.0, "1", COMMON_PRACTICE)
SURFACE_SHARE = Triple(0.5, 0.5, 1.0)
"""How far a box's outside is from the air around it towards that in it: the films on both sides of the wall are
about alike, at worst it is as warm as the air in it [physics; the share is common practice, no source]."""

MODULE = Triple(25.0, 30.0, 40.0)
"""Rise of a module of which no K/W is stated [K/W]; BARE_MODULE."""
CABLE_SHARE = Triple(0.0, 0.5, 1.0)
"""Part of the permitted rise that a cable has at its rated current: at worst all of it."""
CABLE_RISE = Limit("rise of a cable's plugs at its rated current", 30.0, "K", PLUG_RISE)

BOARD = Limit("most that a converter's board has for years", 100.0, "C", COMMON_PRACTICE)
INSULATION = Limit("most that PVC insulation takes", 70.0, "C", PVC)
CONTACT = Limit("heat in the contacts of one wire that stays harmless", 0.5, "W", COMMON_PRACTICE)
TOUCH_METAL = Limit("metal that a hand may hold briefly", 48.0, "C", TOUCH)
TOUCH_PLASTIC = Limit("plastic that a hand may hold briefly", 77.0, "C", TOUCH)
