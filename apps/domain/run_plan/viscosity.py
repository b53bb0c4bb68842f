"""How much slower a reverse osmosis machine feeds when the sap is colder than when measured.

Formula: viscosity = sum over i of a_i (T / 300)^b_i, T in kelvin, in micropascal seconds; feed =
measured feed x viscosity at the measurement / viscosity now, only when the sap is colder.
Units: millipascal seconds, C, litres per hour.
Validity: liquid water at 0.1 MPa from -20 to 110 C; sap is taken as water, which at 2 Brix is
some 5 % too thin (from memory) but cancels in the ratio. Feed is asked for between -1 and 40 C.
Viscosity is the least a membrane loses: one published table of water treatment gives a divisor of
1.47 from 25 to 15 C where viscosity gives 1.28, so a rate measured on cold sap always beats a
scaled one. Warmer sap is never credited with a faster feed.
Source: IAPWS SR6-08(2011), Supplementary Release on Properties of Liquid Water at 0.1 MPa, eq. 7
(coefficients from memory, held to the iapws library and printed tables in the tests). That
machines are rated at 55 F and must be derated when cold: OSU Extension, Ohio Maple Days 2022.
"""

import math

from apps.domain.errors import require_range

_COEFFICIENTS = ((280.68, -1.9), (511.45, -7.7), (61.131, -19.6), (0.45903, -40.0))
ICE_POINT_K = 273.15
# Sap freezes a tenth of a degree under water; a reading below this is the air's.
COLDEST_SAP_C = -1.0
WARMEST_SAP_C = 40.0


def water_viscosity_mpa_s(temperature_c: float) -> float:
    """Viscosity of liquid water at 0.1 MPa; OutOfRange outside -20..110 C."""
    require_range("temperature_c", temperature_c, -20.0, 110.0)
    reduced = (temperature_c + ICE_POINT_K) / 300.0
    # math.pow, unlike **, is known to give a float.
    return sum(factor * math.pow(reduced, power) for factor, power in _COEFFICIENTS) / 1000.0


def feed_at_temperature(
    feed_litres_per_hour: float, measured_at_c: float, sap_temperature_c: float
) -> float:
    """Feed rate on sap at sap_temperature_c from one measured at measured_at_c.

    Raises OutOfRange for a feed under zero or a temperature outside -1..40 C.
    """
    require_range("feed_litres_per_hour", feed_litres_per_hour, 0.0, 1e6)
    require_range("measured_at_c", measured_at_c, COLDEST_SAP_C, WARMEST_SAP_C)
    require_range("sap_temperature_c", sap_temperature_c, COLDEST_SAP_C, WARMEST_SAP_C)
    # Warm sap does pass faster, but a plan that counts on it ends late when the night cools.
    if sap_temperature_c >= measured_at_c:
        return feed_litres_per_hour
    thicker = water_viscosity_mpa_s(sap_temperature_c) / water_viscosity_mpa_s(measured_at_c)
    return feed_litres_per_hour / thicker
