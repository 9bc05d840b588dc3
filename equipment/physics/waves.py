"""Wavelengths, and what a height above ground does to them."""

import math

LIGHT_M_S = 299_792_458.0


def wavelength_m(frequency_hz, velocity_factor=1.0):
    """Wavelength in free space or in a line, m; ValueError unless both are positive."""
    if frequency_hz <= 0 or velocity_factor <= 0:
        raise ValueError("frequency and velocity factor must be positive")
    return LIGHT_M_S / frequency_hz * velocity_factor


def lowest_lobe_deg(height_wavelengths):
    """Elevation of the lowest lobe of a horizontal wire over perfect ground, degrees: arcsin(1/(4 H)).

    90 (straight up) at a quarter wave and below. Image theory; real ground moves it by a few degrees.
    """
    if height_wavelengths <= 0:
        raise ValueError("the height must be positive")
    if height_wavelengths <= 0.25:
        return 90.0
    return math.degrees(math.asin(1 / (4 * height_wavelengths)))
