"""Places of boats, rounded for the reader, and distances (geodesics on WGS 84)."""

from dataclasses import dataclass

from geographiclib.geodesic import Geodesic

Place = tuple[float, float]  # latitude and longitude, degrees

# A tenth of a degree is 11 km of latitude: it shows the coast, not the yard.
ROUGH_DECIMALS = 1
# Boats within this distance lie in one yard (project's own estimate).
SAME_YARD_KM = 1.0


@dataclass(frozen=True)
class RoughPlace:
    latitude: float
    longitude: float


def rough(place: Place | None) -> RoughPlace | None:
    if place is None:
        return None
    return RoughPlace(*(round(degrees, ROUGH_DECIMALS) for degrees in place))


def geodesic_m(one: Place, other: Place) -> float:
    """The shortest distance on the ellipsoid, in metres (Karney 2013)."""
    metres: float = Geodesic.WGS84.Inverse(*one, *other, Geodesic.DISTANCE)["s12"]
    return metres


def distance_km(one: Place, other: Place) -> float:
    return geodesic_m(one, other) / 1000


def same_yard(one: Place, other: Place) -> bool:
    return distance_km(one, other) <= SAME_YARD_KM
