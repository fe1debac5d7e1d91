"""Pictures of a rig on a charger: every part in one line, the voltage down the chain, where the watts go."""

from typing import Literal

PictureName = Literal["parts", "voltage", "watts"]
"""The pictures of a drawn rig: every part, the voltage down the chain, where the watts go."""
PlotName = Literal["offers", "envelope", "bus"]
"""The plots of a report: what the source offers, what an output can deliver, VBUS over time."""
