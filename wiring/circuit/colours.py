"""Wire colours by IEC 60757 code.

Those of the unit's own wires are fixed by IEC 60947-5-2 (from memory); the others are this rig's proposal. Where local
rules ask for others (IEC 60204-1 wants blue for DC control circuits), they go first; wire numbers stay.
"""

from __future__ import annotations

L_PLUS = "BN"
L_MINUS = "BU"
OUTPUT = "BK"
TEACH = "WH"
EARTH = "GNYE"
# IEC 60445 has red for the positive conductor of a DC circuit (from memory).
CONTROL = "RD"
CONTROL_RETURN = "WHBU"
CONTROL_SIGNAL = "WHRD"
# IEC 60204-1 keeps orange for circuits that stay live when this panel is off (from memory).
FOREIGN = "OG"
BOARD_SUPPLY = "PK"
BOARD_RETURN = "GY"
BOARD_OUTPUT = "VT"
BOARD_INPUT = "TQ"

NAMES = {
    "BK": "black",
    "BN": "brown",
    "RD": "red",
    "OG": "orange",
    "BU": "blue",
    "VT": "violet",
    "GY": "grey",
    "WH": "white",
    "PK": "pink",
    "TQ": "turquoise",
    "GNYE": "green-yellow",
    "WHBU": "white-blue",
    "WHRD": "white-red",
}
"""Words for the codes; a colour of two is written without a sign between (IEC 60757, from memory)."""
