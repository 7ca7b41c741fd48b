"""Moisture from wet to dry basis and back, and mass at another moisture."""

__all__ = ["dry_basis", "mass_at_moisture", "wet_basis"]


def dry_basis(moisture_wb: float) -> float:
    """Moisture on dry basis: water for each kilogram of dry matter.

    Parameters
    ----------
    moisture_wb : float
        Water for each kilogram of the material as it is. [kg/kg]

    Returns
    -------
    moisture_db : float
        Water for each kilogram of dry matter. [kg/kg]

    Raises
    ------
    ValueError
        If the moisture is below 0 or not below 1.

    Examples
    --------
    A fifth water is a quarter of the dry matter:

    >>> dry_basis(0.2)
    0.25

    Sources
    -------
    [1] Follows from the definitions of the two bases (mass of water over whole mass, mass of
        water over dry mass).
    """
    if not 0 <= moisture_wb < 1:
        raise ValueError(f"moisture {moisture_wb!r} wet basis; allowed: 0 up to, not with, 1")
    return moisture_wb / (1 - moisture_wb)


def wet_basis(moisture_db: float) -> float:
    """Moisture on wet basis: water for each kilogram of the material as it is.

    Parameters
    ----------
    moisture_db : float
        Water for each kilogram of dry matter. [kg/kg]

    Returns
    -------
    moisture_wb : float
        Water for each kilogram of the material as it is. [kg/kg]

    Raises
    ------
    ValueError
        If the moisture is below 0.

    Examples
    --------
    >>> wet_basis(0.25)
    0.2

    Sources
    -------
    [1] Follows from the definitions of the two bases.
    """
    if not moisture_db >= 0:
        raise ValueError(f"moisture {moisture_db!r} dry basis; allowed: 0 or more")
    return moisture_db / (1 + moisture_db)


def mass_at_moisture(mass_kg: float, moisture_wb: float, *, moisture_target_wb: float) -> float:
    """Mass that the same dry matter has at another moisture.

    Parameters
    ----------
    mass_kg : float
        Mass at its present moisture. [kg]
    moisture_wb : float
        Present moisture, wet basis. [kg/kg]
    moisture_target_wb : float
        Moisture asked about, wet basis. [kg/kg]

    Returns
    -------
    mass_target_kg : float
        Mass at that moisture. [kg]

    Raises
    ------
    ValueError
        If a moisture is below 0 or not below 1.

    Examples
    --------
    A thousand kilograms at a fifth water hold 800 kg of dry matter:

    >>> mass_at_moisture(1000.0, 0.2, moisture_target_wb=0.0)
    800.0

    Sources
    -------
    [1] Dry matter is the same before and after.
    """
    for moisture in (moisture_wb, moisture_target_wb):
        if not 0 <= moisture < 1:
            raise ValueError(f"moisture {moisture!r} wet basis; allowed: 0 up to, not with, 1")
    return mass_kg * (1 - moisture_wb) / (1 - moisture_target_wb)
