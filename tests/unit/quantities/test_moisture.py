"""Moisture on wet and dry basis."""

import pytest

from bedstone.quantities.moisture import dry_basis, mass_at_moisture, wet_basis


@pytest.mark.parametrize("moisture_wb", [-0.01, 1.0, 1.5, float("nan")])
def test_wet_basis_lies_between_nothing_and_one(moisture_wb: float):
    """A wet-basis moisture outside 0 to 1 is refused in every function."""
    with pytest.raises(ValueError, match="allowed"):
        dry_basis(moisture_wb)
    with pytest.raises(ValueError, match="allowed"):
        mass_at_moisture(1.0, 0.1, moisture_target_wb=moisture_wb)


@pytest.mark.parametrize("moisture_db", [-0.01, float("nan")])
def test_dry_basis_is_not_below_nothing(moisture_db: float):
    """A dry-basis moisture below nothing is refused."""
    with pytest.raises(ValueError, match="allowed"):
        wet_basis(moisture_db)


def test_shrink_of_wet_corn():
    """1000 kg at 20 % hold 800 kg of dry matter, which is 800/0.86 kg at 14 %, worked by hand."""
    assert mass_at_moisture(1000.0, 0.20, moisture_target_wb=0.14) == pytest.approx(800 / 0.86)
