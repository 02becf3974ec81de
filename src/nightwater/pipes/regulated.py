"""The engine for heads that regulate their own pressure: each draws its design flow."""

from __future__ import annotations

from dataclasses import replace

from nightwater.pipes.engine import Engine
from nightwater.pipes.hydraulic_network import HydraulicNetwork


class RegulatedEngine(Engine):
    """As `Engine`, with every head of a known design pressure regulated, said or not.

    Such a head draws its design flow while the pipe has its pressure, and is an open nozzle
    where not.
    """

    def __init__(self, network: HydraulicNetwork) -> None:
        """Write the network.

        Args:
            network: as `build_hydraulic_network` gives it.

        Raises:
            UserError: EPANET refuses the network.
        """
        emitters = network.emitters
        regulated = emitters.known & (emitters.design_kpa > 0)
        super().__init__(replace(network, emitters=replace(emitters, regulated=regulated)))
