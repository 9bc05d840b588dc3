"""Units that people type and read, against the SI units that are stored; pure."""

METRIC, IMPERIAL = "metric", "imperial"

# Exact by definition: international yard and pound agreement of 1959 (foot, mile, pound).
FOOT_M = 0.3048
INCH_M = 0.0254
MILE_KM = 1.609344
POUND_KG = 0.45359237
OUNCE_KG = POUND_KG / 16

LENGTH_NAMES = {METRIC: "m", IMPERIAL: "ft"}
DISTANCE_NAMES = {METRIC: "km", IMPERIAL: "mi"}
WEIGHT_NAMES = {METRIC: "kg", IMPERIAL: "lb"}


def length_from_m(length_m, units):
    """Metres as metres or feet."""
    return length_m / FOOT_M if units == IMPERIAL else length_m


def length_to_m(length, units):
    """Metres or feet, as typed, to metres."""
    return length * FOOT_M if units == IMPERIAL else length


def distance_from_km(distance_km, units):
    """Kilometres as kilometres or miles."""
    return distance_km / MILE_KM if units == IMPERIAL else distance_km


def distance_to_km(distance, units):
    """Kilometres or miles, as typed, to kilometres."""
    return distance * MILE_KM if units == IMPERIAL else distance


def weight_from_kg(weight_kg, units):
    """Kilograms as kilograms or pounds."""
    return weight_kg / POUND_KG if units == IMPERIAL else weight_kg


def weight_to_kg(weight, units):
    """Kilograms or pounds, as typed, to kilograms."""
    return weight * POUND_KG if units == IMPERIAL else weight
