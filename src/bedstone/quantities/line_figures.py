"""Figures of a pellet line as its operator reads them: degrees, tons an hour, pounds of steam."""

import math

from bedstone.quantities.units import DIMENSIONS, from_si

__all__ = [
    "air_words",
    "amount_words",
    "cost_words",
    "depth_words",
    "length_words",
    "moisture_words",
    "pressure_words",
    "rate_number",
    "rate_unit",
    "rate_words",
    "rise_words",
    "steam_words",
    "temperature_number",
    "temperature_unit",
    "temperature_words",
    "ton_words",
]


def _number(value: float, suffix: str, unit: str) -> float:
    return float(from_si(value, DIMENSIONS[suffix].units[unit]))


def temperature_unit(units: str) -> str:
    """Degrees as the mill reads them."""
    return "°F" if units == "US" else "°C"


def temperature_number(temperature_c: float, units: str) -> float:
    """A temperature in the mill's degrees.

    Parameters
    ----------
    temperature_c : float
        Temperature. [degrees C]
    units : str
        "US" or "SI".

    Returns
    -------
    number : float
        Degrees F or C.

    Sources
    -------
    [1] Exact factors of :data:`bedstone.quantities.units.DIMENSIONS`.

    Examples
    --------
    >>> temperature_number(85.0, "US")
    185.0
    """
    return _number(temperature_c, "c", "f" if units == "US" else "c")


def temperature_words(temperature_c: float, units: str) -> str:
    """A temperature to the whole degree F, or half a degree C.

    Parameters
    ----------
    temperature_c : float
        Temperature. [degrees C]
    units : str
        "US" or "SI".

    Returns
    -------
    words : str
        Number and unit.

    Examples
    --------
    >>> temperature_words(82.2, "US"), temperature_words(82.26, "SI")
    ('180 °F', '82.5 °C')
    """
    number = temperature_number(temperature_c, units)
    if units == "US":
        return f"{number:.0f} °F"
    return f"{round(2 * number) / 2:g} °C"


def rise_words(rise_dk: float, units: str) -> str:
    """A difference of temperatures.

    Parameters
    ----------
    rise_dk : float
        Difference. [K]
    units : str
        "US" or "SI".

    Returns
    -------
    words : str
        Number and unit.

    Examples
    --------
    >>> rise_words(5.0, "US"), rise_words(5.0, "SI")
    ('9 °F', '5 °C')
    """
    if units == "US":
        return f"{_number(rise_dk, 'dk', 'df'):.0f} °F"
    return f"{round(2 * rise_dk) / 2:g} °C"


def rate_unit(units: str) -> str:
    """The unit that a line's rate is spoken in; a ton is of 2000 lb."""
    return "ton/h" if units == "US" else "t/h"


def rate_number(rate_kg_s: float, units: str) -> float:
    """A line's rate in the mill's tons an hour.

    Parameters
    ----------
    rate_kg_s : float
        Rate. [kg/s]
    units : str
        "US" or "SI".

    Returns
    -------
    number : float
        Short tons or tonnes an hour.

    Sources
    -------
    [1] Exact factors of :data:`bedstone.quantities.units.DIMENSIONS`.

    Examples
    --------
    >>> round(rate_number(2.0, "US"), 3), rate_number(2.0, "SI")
    (7.937, 7.2)
    """
    return _number(rate_kg_s, "kg_s", "ton_h" if units == "US" else "t_h")


def rate_words(rate_kg_s: float, units: str) -> str:
    """A line's rate to a tenth of a ton an hour.

    Parameters
    ----------
    rate_kg_s : float
        Rate. [kg/s]
    units : str
        "US" or "SI".

    Returns
    -------
    words : str
        Number and unit.

    Examples
    --------
    >>> rate_words(2.0, "US")
    '7.9 ton/h'
    """
    return f"{rate_number(rate_kg_s, units):.1f} {rate_unit(units)}"


def steam_words(steam_kg_s: float, units: str) -> str:
    """A flow of steam by the hour.

    Parameters
    ----------
    steam_kg_s : float
        Steam. [kg/s]
    units : str
        "US" or "SI".

    Returns
    -------
    words : str
        Number and unit, to ten pounds or five kilograms.

    Examples
    --------
    >>> steam_words(0.1, "US"), steam_words(0.1, "SI")
    ('790 lb/h', '360 kg/h')
    """
    number = _number(steam_kg_s, "kg_s", "lb_h" if units == "US" else "kg_h")
    step = 10 if units == "US" else 5
    return f"{round(number / step) * step:,} {'lb/h' if units == 'US' else 'kg/h'}"


def moisture_words(moisture_wb: float) -> str:
    """Water for the mass as it is, in per cent.

    Parameters
    ----------
    moisture_wb : float
        Moisture, wet basis. [kg/kg]

    Returns
    -------
    words : str
        Number and unit.

    Examples
    --------
    >>> moisture_words(0.1652)
    '16.5 %'
    """
    return f"{100 * moisture_wb:.1f} %"


def length_words(length_mm: float, units: str) -> str:
    """A length of a pellet or of a hole.

    Parameters
    ----------
    length_mm : float
        Length. [mm]
    units : str
        "US" or "SI".

    Returns
    -------
    words : str
        Number and unit.

    Examples
    --------
    >>> length_words(3.96875, "US"), length_words(3.96875, "SI")
    ('0.156 in', '4 mm')
    """
    if units == "US":
        return f"{_number(length_mm, 'mm', 'in'):.3f} in"
    return f"{length_mm:.1f}".removesuffix(".0") + " mm"


def pressure_words(gauge_pa: float, units: str) -> str:
    """Steam pressure as a gauge shows it.

    Parameters
    ----------
    gauge_pa : float
        Pressure above the air's. [Pa]
    units : str
        "US" or "SI".

    Returns
    -------
    words : str
        Number and unit.

    Examples
    --------
    >>> pressure_words(172_368.93, "US")
    '25 psi'
    """
    number = _number(gauge_pa, "pa", "psi" if units == "US" else "kpa")
    return f"{number:.0f} {'psi' if units == 'US' else 'kPa'}"


def air_words(air_m3_s: float, units: str) -> str:
    """A volume of air at the fan.

    Parameters
    ----------
    air_m3_s : float
        Volume of air. [m3/s]
    units : str
        "US" or "SI".

    Returns
    -------
    words : str
        Number and unit.

    Examples
    --------
    >>> air_words(3.398, "US")
    '7,200 cfm'
    """
    if units == "US":
        return f"{round(_number(air_m3_s, 'm3_s', 'cfm') / 10) * 10:,} cfm"
    return f"{air_m3_s:.2f} m³/s"


def depth_words(depth_m: float, units: str) -> str:
    """Depth of a bed.

    Parameters
    ----------
    depth_m : float
        Depth. [m]
    units : str
        "US" or "SI".

    Returns
    -------
    words : str
        Number and unit.

    Examples
    --------
    >>> depth_words(0.792, "US"), depth_words(0.792, "SI")
    ('31 in', '0.79 m')
    """
    return f"{_number(1000 * depth_m, 'mm', 'in'):.0f} in" if units == "US" else f"{depth_m:.2f} m"


def amount_words(amount: float) -> str:
    """A number to three figures, with a comma between thousands.

    Parameters
    ----------
    amount : float
        Any amount.

    Returns
    -------
    words : str
        The number.

    Examples
    --------
    >>> amount_words(8123.4), amount_words(1.23456), amount_words(0.0), amount_words(math.inf)
    ('8,120', '1.23', '0', 'no end of it')
    """
    if amount == 0:
        return "0"
    if not math.isfinite(amount):
        return "no end of it"
    places = 2 - math.floor(math.log10(abs(amount)))
    return f"{round(amount, places):,.{max(places, 0)}f}"


def ton_words(part_frac: float, units: str) -> str:
    """A part of the feed as a mass in a ton of it.

    Parameters
    ----------
    part_frac : float
        Part of the feed. [0 to 1]
    units : str
        "US" or "SI".

    Returns
    -------
    words : str
        Pounds in a ton of 2000 lb, or kilograms in a tonne.

    Examples
    --------
    >>> ton_words(0.0025, "US"), ton_words(0.0025, "SI")
    ('5.00 lb/ton', '2.50 kg/t')
    """
    if units == "US":
        return f"{amount_words(2000 * part_frac)} lb/ton"
    return f"{amount_words(1000 * part_frac)} kg/t"


def cost_words(cost_usd_t: float, units: str) -> str:
    """A cost for each ton of feed.

    Parameters
    ----------
    cost_usd_t : float
        Cost. [USD/t]
    units : str
        "US" or "SI".

    Returns
    -------
    words : str
        For a ton of 2000 lb, or for a tonne.

    Examples
    --------
    >>> cost_words(1.8, "US"), cost_words(1.8, "SI")
    ('1.63 USD/ton', '1.80 USD/t')
    """
    if units == "US":
        return f"{_number(cost_usd_t, 'usd_t', 'usd_ton'):.2f} USD/ton"
    return f"{cost_usd_t:.2f} USD/t"
