"""Template tags for contacts that are placed by their state or country: marked, rounded, never exact."""

from django import template

from equipment import units as quantities
from equipment.templatetags.units import NBSP, distance_between, significant
from outings import areas, geography
from outings.templatetags.times import bearing

register = template.Library()

SIGN = "≈"
EIGHTH = 0.3827  # sine of an eighth of a half turn: a circle is seen under twice the arcsine of radius over distance


@register.simple_tag
def about_contact(contact, operator):
    """The area that a contact without a position is in, and the way to it, where the operator wants that; else None."""
    area = contact.their_area if operator.place_by_area and contact.distance_km is None else None
    return {"area": area, "way": area.way_from(contact.outing.site.place)} if area else None


@register.simple_tag
def about_distance(way, units=quantities.METRIC):
    """≈ 600 ± 300 km, or ≈ 0 to 900 km where they may be anywhere near."""
    return f"{SIGN}{NBSP}{distance_between(way.distance_km, way.error_km, units)}"


@register.filter
def about_bearing(way):
    """The direction of the middle; nothing where the circle fills more than an eighth of the horizon."""
    if way.bearing_deg is None or way.error_km > way.distance_km * EIGHTH:
        return ""
    return bearing(way.bearing_deg)


@register.filter
def rough(value_km, units=quantities.METRIC):
    """A distance to two digits: 620 km."""
    if value_km is None:
        return ""
    value = quantities.distance_from_km(value_km, units)
    return f"{significant(value, 2)}{NBSP}{quantities.DISTANCE_NAMES.get(units, 'km')}"


@register.simple_tag
def line_distance(line, units=quantities.METRIC):
    """The distance to an area from one site, or the span of those from several."""
    if line.only:
        return about_distance(line.only, units)
    return f"{SIGN}{NBSP}{rough(line.least_km, units).split(NBSP)[0]} to {rough(line.most_km, units)}"


@register.filter
def nowhere(near, total):
    """How many contacts of the figures are not placed at all."""
    return total.without_position - near.contacts


@register.simple_tag
def median_text(near, units=quantities.METRIC):
    """What can be said of the distances of all that are placed approximately."""
    if near.median_km is None:
        return ""
    least, median, most = (
        rough(value_km, units) for value_km in (near.median_least_km, near.median_km, near.median_most_km)
    )
    return (
        f"Half of these contacts are nearer than about {median}: between {least} and {most} if each is within its "
        "circle. They are in no other figure of distances or directions. A circle is around the middle of the towns "
        f"and reaches the farthest of them. Towns by {areas.SOURCE}."
    )


@register.simple_tag
def source():
    """Whose data the areas are made from, and their licence."""
    return areas.SOURCE


def dots(near, centre, units):
    """The areas on a map around a Centre, to ten kilometres: they are no nearer known than that."""
    found = []
    for one in near.around if near else ():
        latitude_deg, longitude_deg = geography.destination_on_sphere(
            centre.latitude_deg, centre.longitude_deg, one.bearing_deg or 0.0, one.distance_km
        )
        plural = "s" if one.contacts > 1 else ""
        found.append({
            "label": f"{one.area.name}: {one.contacts} contact{plural} approximately, {about_distance(one, units)}",
            "latitude_deg": round(latitude_deg, 1), "longitude_deg": round(longitude_deg, 1),
            "distance_km": round(one.distance_km, -1),
        })
    return found
