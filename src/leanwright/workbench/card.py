"""The card of the next flight, for every caller: from nothing, or from what was measured of this engine."""

from leanwright.analysis.flight_card import FlightCard, flight_card
from leanwright.analysis.measured import Measured


def make_card(measured: Measured | None = None, wanted_u_spread_gph: float | None = None) -> FlightCard:
    """Work out what to fly for a wanted standard uncertainty of the spread [gal/h]."""
    return flight_card(measured, wanted_u_spread_gph)
