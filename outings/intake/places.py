"""Where imported contacts were made: the places that a file names, and the sites that they are."""

from dataclasses import dataclass
from functools import lru_cache

from outings import geography
from outings.adif import fields
from outings.models import Site

FIELDS = ("MY_SIG", "MY_SIG_INFO", "MY_GRIDSQUARE", "MY_LAT", "MY_LON")


@dataclass(frozen=True, slots=True)
class Spot:
    """A place that a file names: programme, reference and position, as far as it gives them."""

    programme: str = ""
    reference: str = ""
    grid: str = ""
    latitude_deg: float | None = None
    longitude_deg: float | None = None

    @property
    def key(self):
        """What tells it apart: programme, reference, grid square to six characters."""
        return "|".join((self.programme.upper(), self.reference.upper(), self.grid[:6]))

    @property
    def label(self):
        """It in words."""
        parts = [part for part in (self.programme, self.reference, self.grid) if part]
        return " ".join(parts) or "no place given"

    @property
    def has_position(self):
        return bool(self.grid)


@lru_cache(maxsize=65536)
def spot(programme, reference, grid, latitude, longitude):
    """The place that these fields name (None where one is missing); a position gives the grid where none is named."""
    programme, reference = (programme or "").strip(), (reference or "").strip()
    try:
        grid = geography.canonical_grid(grid)[:8] if grid else ""
    except ValueError:
        grid = ""
    north, east = fields.degrees(latitude or ""), fields.degrees(longitude or "")
    if north is None or east is None:
        north = east = None
    elif not grid:
        grid = geography.grid_of(north, east, 6)
    return Spot(programme[:40], reference[:60], grid, north, east)


def likely_site(spot, sites):
    """The site that a place most likely is: by its reference, else by its grid square; None for a new one."""
    near = [site for site in sites if spot.grid and site.grid.lower().startswith(spot.grid[:6].lower())]
    if spot.reference:
        named = [
            site for site in sites
            if any(pair.get("reference", "").upper() == spot.reference.upper() for pair in site.references)
        ]
        if named:
            return next((site for site in named if site in near), named[0])
        return None
    return near[0] if near and len(spot.grid) >= 6 else None


def new_site(spot, owner, name="", grid=""):
    """A site, not yet stored, at a place; `grid` is where the place has no position. None where nothing says where."""
    site = Site(owner=owner, name=(name or spot.reference or spot.grid or grid)[:80])
    if spot.reference or spot.programme:
        site.references = [{"programme": spot.programme, "reference": spot.reference}]
    if spot.latitude_deg is not None:
        site.put_at(spot.latitude_deg, spot.longitude_deg, source=Site.PositionFrom.COORDINATES)
    elif spot.grid or grid:
        site.put_in_grid(spot.grid or grid)
    else:
        return None
    return site
