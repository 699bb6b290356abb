"""Distances between places: geodesics on the WGS 84 ellipsoid, and estimates of roads.

The geodesic is the library's (Karney 2013, doi 10.1007/s00190-012-0578-z), to nanometres. The road
is estimated from it by two figures that the planner may set; both are common practice, no source:
a road is about 1.3 times as long as the line on the map, and the speed on mixed roads is 60 km/h.
"""

import math
from dataclasses import dataclass

from apps.second_opinions.places import Place, geodesic_m

ROAD_FACTOR = 1.3
SPEED_KMH = 60


@dataclass(frozen=True)
class Roads:
    """Driving estimated from the line on the map. Both figures are rounded up.

    Rounding up keeps the triangle inequality, which the solver needs: a detour is never
    shorter or quicker than the direct way.
    """

    factor: float = ROAD_FACTOR
    speed_kmh: float = SPEED_KMH

    def metres(self, a: Place, b: Place) -> int:
        return 0 if a == b else math.ceil(geodesic_m(a, b) * self.factor)

    def minutes(self, metres: int) -> int:
        return math.ceil(metres * 60 / (self.speed_kmh * 1000))
