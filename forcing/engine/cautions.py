"""The usual cautions, each written once; tasks name them by key and sheets print a key's text once.

They are reminders. Labels, local codes, the house's own rules and licensed practice come first. Sources:
tulip and hyacinth bulbs and narcissus sap on skin - Cutis, "Botanical briefs" (tulips; daffodils, 2023) and
University of Minnesota Extension columns; gloves - the same columns; lifting - the 23 kg ideal maximum of the
NIOSH lifting equation and the reductions of HSE leaflet INDG143; wet cement - the guides for employers of
NIOSH/CPWR and OSHA's cement guidance; cold rooms, wet floors, ladders - common
practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

CAUTIONS: Mapping[str, str] = MappingProxyType(
    {
        "bulbs": (
            "Bulbs and sap: tulip, hyacinth and narcissus can inflame the skin and dust can irritate the airways. "
            "Nitrile gloves, long sleeves, no dry sweeping; wash hands and clothes. All parts are poisonous "
            "to eat: keep away from food, children and pets."
        ),
        "lifting": (
            "Lifting: use the trolley, two people for heavy crates, load close to the body, no twisting. "
            "23 kg is an upper limit in ideal conditions only; follow the house's rules."
        ),
        "cold room": (
            "Cold room: warm clothes, tell someone, never alone behind a closed door; check that the door opens "
            "from inside and that the vents work. No fruit in the room: it harms the buds."
        ),
        "wet floor": "Wet floors: clear hoses, mop spills, shoes with grip; keep electrics dry.",
        "cement": (
            "Cement: wet cement is caustic and burns late, without pain at first; dust harms lungs and eyes. "
            "Waterproof gloves, long sleeves, eye protection, dust mask when mixing dry; wash splashes off at once, "
            "do not wait for pain; take soaked clothes off; see a doctor for burns or anything in the eye."
        ),
        "ladder": "Ladders: stand them on firm ground, keep three points of contact, never the top steps.",
        "chemicals": (
            "Growth regulators, dips and sprays: only as the label and local law allow, by licensed staff "
            "with the protective kit the label names; keep to the re-entry time."
        ),
    }
)
