"""The engine for heads that regulate their own pressure: each draws its design flow."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from nightwater.pipes.engine import Engine
from nightwater.pipes.epanet_project import Raw
from nightwater.pipes.hydraulic_network import HydraulicNetwork

_NO_DESIGN_KPA: Final = 100.0

Numbers = NDArray[np.float64]


class RegulatedEngine(Engine):
    """As `Engine`, with every open head drawing the flow of its design pressure.

    Right where a head's regulator takes up what pressure is over; where a head lacks
    pressure it draws a little less than is counted here, so that its lack is overstated.
    """

    def __init__(self, network: HydraulicNetwork) -> None:
        """Write the network.

        Args:
            network: as `build_hydraulic_network` gives it.

        Raises:
            UserError: EPANET refuses the network.
        """
        super().__init__(network)
        design = network.emitters.design_kpa
        flow, _ = network.emitters.flow_and_radius(np.where(design > 0, design, _NO_DESIGN_KPA))
        self._design_l_s = np.nan_to_num(flow)

    def _with_nozzles(self, on: NDArray[np.bool_]) -> tuple[Raw, Numbers, bool]:
        flow = np.where(on, self._design_l_s, 0.0)
        at = np.bincount(
            self.network.head_node, weights=flow, minlength=len(self.network.elevation_m)
        )
        self._project.draw(at.astype(float))
        return self._project.run(), flow, True
