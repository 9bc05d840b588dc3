"""Template filters that show where a site is."""

from django import template

from outings import geography

register = template.Library()


@register.filter
def decimal_position(site):
    """48.14670, 11.60830; fewer decimals where the position is a coarse grid square's centre."""
    decimals = 3 if site.position_from == site.PositionFrom.GRID and len(site.grid) <= 6 else 5
    return geography.format_decimal(site.latitude_deg, site.longitude_deg, decimals)


@register.filter
def minutes_position(site):
    """48° 08.802′ N 11° 36.498′ E."""
    decimals = 1 if site.position_from == site.PositionFrom.GRID and len(site.grid) <= 6 else 3
    return geography.format_minutes(site.latitude_deg, site.longitude_deg, decimals)
