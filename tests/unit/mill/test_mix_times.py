from dataclasses import replace

from bedstone.mill.mixing import mix_times
from fakes.small_mill import a_mill


def test_wet_mixing_only_with_a_liquid() -> None:
    """Without a liquid nothing is mixed wet."""
    mill = a_mill()
    dry = mix_times(mill, "MX1", material="PIG-FIN", ingredients=("CORN-GR", "SBM"))
    wet = mix_times(mill, "MX1", material="PIG-FIN", ingredients=("CORN-GR", "MOL"))
    assert (dry.dry_mix_s, dry.wet_mix_s) == (180.0, 0.0)
    assert (wet.dry_mix_s, wet.wet_mix_s) == (180.0, 120.0)


def test_the_product_goes_before_the_mixer() -> None:
    """A product's own mixing times count instead of the mixer's, nought seconds too."""
    mill = a_mill()
    products = tuple(
        replace(row, dry_mix_s=240.0, wet_mix_s=0.0) if row.product == "PIG-FIN" else row
        for row in mill.products
    )
    mill = replace(mill, products=products)
    times = mix_times(mill, "MX1", material="PIG-FIN", ingredients=("CORN-GR", "MOL"))
    assert (times.dry_mix_s, times.wet_mix_s) == (240.0, 0.0)


def test_a_flush_is_mixed_as_the_mixer_says() -> None:
    """A flush material is no product and has the mixer's dry time."""
    times = mix_times(a_mill(), "MX1", material="BARLEY-GR", ingredients=("BARLEY-GR",))
    assert (times.dry_mix_s, times.wet_mix_s) == (180.0, 0.0)
