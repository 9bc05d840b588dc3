"""New contacts turned into the columns of their rows: which outing, how far, made with what; nothing is stored yet."""

import json
from array import array
from datetime import UTC, datetime, timedelta

from outings import geography
from outings.adif import columns, tables
from outings.models import Outing, Site

from . import bulk, known, places
from .spool import Spool

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
THEIR_PLACE = ("their_grid", "their_latitude_deg", "their_longitude_deg")
SETUP = ("band", "mode", "submode", "MY_RIG", "MY_ANTENNA", columns.OURS + "PACK", "power_w")
WAY = ("distance_km", "distance_error_km", "bearing_deg")


class CannotImport(Exception):
    """The import cannot be done as asked; the message says why. Nothing was stored."""


class Group:
    """New contacts that go onto one outing."""

    __slots__ = ("outing_id", "site", "station_call", "was_there")

    def __init__(self, outing, site, station_call):
        self.site, self.station_call, self.was_there = site, station_call, outing is not None
        self.outing_id = outing.pk if outing else None


class FoundOut(dict):
    """What each distinct key leads to, found out once."""

    def __init__(self, find):
        super().__init__()
        self.find = find

    def __missing__(self, key):
        found = self[key] = self.find(key)
        return found


class Prepared:
    """The rows that an import is about to store, and the sites and outings that come of them.

    `at`, `group_of` and `setup_of` tell of each row when it was, the number of its Group and that of its set-up.
    """

    def __init__(self, operator, choices, in_log):
        self.operator, self.choices, self.in_log = operator, choices, in_log
        self.spool, self.at, self.group_of, self.setup_of = Spool(), array("q"), array("l"), array("l")
        self.groups, self.setups, self.sites, self.new_sites = [], [], {}, []
        self._groups, self._shared_groups = FoundOut(self._group), {}
        self._places, self._place_of_group = [], []
        self._ways, self._setups = FoundOut(self._way), FoundOut(self._setup)
        self._own_sites = list(Site.objects.of(operator).in_use())
        outings = Outing.objects.of(operator).select_related("site")
        self._own_outing = outings.get(pk=choices["outing"]) if choices.get("outing") else None
        self._outings = {} if self._own_outing else {
            (outing.site_id, f"{outing.window_start:%Y-%m-%d}", outing.station_call): outing
            for outing in outings.order_by("-window_start")
        }

    def add(self, batch):
        """Prepare the rows of a batch of new contacts."""
        if not len(batch):
            return
        groups = self.groups_of(batch)
        froms = map(self._place_of_group.__getitem__, groups)
        ways = map(self._ways.__getitem__, zip(froms, *map(batch.column, THEIR_PLACE), strict=True))
        row = {name: _filled(name, batch.columns[name]) for name in columns.COLUMNS if name in batch.columns}
        row.update(zip(WAY, zip(*ways, strict=True), strict=True))
        row["uuid"], row["raw"] = self._uuids(batch), batch.came
        if batch.problems:
            row["problems"] = ["[]"] * len(batch)
            for position, problems in batch.problems.items():
                row["problems"][position] = json.dumps(problems)
        self.spool.add(row, len(batch))
        self.at.extend(batch.columns["at"])
        self.group_of.extend(groups)
        self.setup_of.extend(map(self._setups.__getitem__, zip(*map(batch.column, SETUP), strict=True)))

    def groups_of(self, batch):
        """The numbers of the groups that the contacts of a batch belong to."""
        where = zip(*map(batch.column, places.FIELDS), batch.columns["day"], batch.columns["station_call"], strict=True)
        return list(map(self._groups.__getitem__, where))

    def members(self):
        """The numbers of the rows of each group."""
        found = [array("l") for _ in self.groups]
        for number, group in enumerate(self.group_of):
            found[group].append(number)
        return found

    def _uuids(self, batch):
        """UUIDs for new contacts: their own where the file carries one that is not taken."""
        found, taken = bulk.fresh_uuids(len(batch)), self.in_log.by_uuid
        if known.UUID in batch.columns:
            for position, text in enumerate(batch.columns[known.UUID]):
                own = known.uuid_of(text)
                if own and own not in taken:
                    found[position], taken[own] = own, (0, known.Known.LIVING)
        return found

    def _setup(self, key):
        """The number of a set-up that stints are made with; upper and lower sideband are one way of talking."""
        band, mode, submode, *rest = key
        if tables.mode_family(mode or "", submode or "") != tables.DIGITAL:
            submode = ""
        setup = (band or "", mode or "", submode or "", *rest)
        if setup not in self.setups:
            self.setups.append(setup)
        return self.setups.index(setup)

    def _way(self, key):
        """(distance_km, error_km, bearing_deg) from a site to their grid square or position; Nones if unknown."""
        place, grid, latitude_deg, longitude_deg = key
        try:
            there = None
            if latitude_deg is not None and longitude_deg is not None:
                there = geography.Place(latitude_deg, longitude_deg)
            elif grid:
                there = geography.place_of_grid(grid)
            if there:
                way = geography.way(self._places[place], there)
                return way.distance_km, way.error_km, way.bearing_deg
        except ValueError:
            pass  # a grid square that is none stays without distance
        return None, None, None

    def _group(self, where):
        """The number of the group of a place, UTC day and station call; several spellings of a place share one."""
        *fields, day, station_call = where
        if self._own_outing:
            shared, site, outing = "outing", self._own_outing.site, self._own_outing
        else:
            site = self._site(places.spot(*fields))
            shared = (id(site), day, station_call)
            outing = self._outings.get((site.pk, day, station_call)) if site.pk else None
        if shared not in self._shared_groups:
            self._shared_groups[shared] = len(self.groups)
            self.groups.append(Group(outing, site, station_call))
            if site.place not in self._places:
                self._places.append(site.place)
            self._place_of_group.append(self._places.index(site.place))
        return self._shared_groups[shared]

    def _site(self, spot):
        """The site of a place: as the operator chose, else the likely one, else a new one."""
        key = spot.key
        if key in self.sites:
            return self.sites[key]
        choice = self.choices.get("sites", {}).get(key) or {}
        site = None
        if choice.get("site"):
            site = next((own for own in self._own_sites if own.pk == choice["site"]), None)
        elif not choice:
            site = places.likely_site(spot, self._own_sites)
        if site is None:
            grid = choice.get("grid") or ("" if spot.has_position else self.choices.get("grid", ""))
            site = places.new_site(spot, self.operator, choice.get("name", ""), grid)
            if site is None:
                raise CannotImport(
                    f"The file does not say where its contacts were made ({spot.label}). Choose a site or a grid."
                )
            twin = next((made for made in self.new_sites if made.grid == site.grid and made.name == site.name), None)
            if twin is None:
                self.new_sites.append(site)
            site = twin or site
        self.sites[key] = site
        return site


def _filled(name, values):
    """The values of a column as a row takes them: what was not given is what an empty row has."""
    empty = columns.EMPTY[name]
    if empty is None or None not in values:
        return values
    return [empty if value is None else value for value in values]


def moment(seconds):
    """Seconds since 1970 as a moment."""
    return EPOCH + timedelta(seconds=seconds)


def utc_text(seconds):
    """Seconds since 1970 as both databases take a moment in UTC."""
    return f"{moment(seconds):%Y-%m-%d %H:%M:%S}"
