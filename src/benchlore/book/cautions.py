"""The caution that stands beside a step, hazard by hazard, and the general one.

The sentences restate what makers' safety sheets and bench rules commonly say (common practice, no single
source; isopropyl alcohol's flash point of 12 °C: NIOSH Pocket Guide to Chemical Hazards). They inform; local
rules and licensed practice come first.
"""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

from benchlore.book.values import Hazard

CAUTIONS: Final[Mapping[Hazard, str]] = MappingProxyType(
    {
        Hazard.MAINS: "Mains can kill. Unplug, let capacitors discharge and measure that they have; "
        "live work only by those licensed for it, behind an isolating transformer.",
        Hazard.LITHIUM: "Lithium cell: unplug it before measuring or heating. Never press, pierce or heat "
        "it; put a swollen or dented one in a fireproof place and do not charge it.",
        Hazard.HOT_AIR: "Hot air burns skin and lights solvents. Let alcohol dry fully first; shield cells "
        "and plastics nearby; let the board cool before touching it.",
        Hazard.SOLVENT: "Solvent vapour burns (alcohol from 12 °C on) and harms: air the room, no flame, no "
        "hot tool, no powered board until it is dry; gloves and glasses.",
        Hazard.LIGHT: "Laser or UV light: wear the glasses made for its wavelength, never look into the beam "
        "or its reflection.",
        Hazard.STATIC: "Static: wear an earthed wrist strap with its 1 Mohm resistor. No strap where 250 V "
        "or more is exposed.",
        Hazard.SHARP: "Sharp edges or glass: cut-proof gloves and glasses.",
        Hazard.HOT_SURFACE: "Hot surface: let it cool, or use tweezers and a heat-proof rest.",
    }
)

GENERAL_CAUTION: Final = (
    "Local safety rules and licensed practice come before anything printed here. "
    "Do not work on what you are not trained for."
)
