import pytest

from planner.units import grams, kind_of_unit, millilitres


@pytest.mark.parametrize(
    ("amount", "unit", "expected"),
    [
        # check values: NIST SP 811 App. B and HB 44 App. C (pound from memory, 453.592 read)
        (1, "lb", 453.59237),
        (1, "oz", 28.349523125),
        (1, "kg", 1000),
    ],
)
def test_weights(amount, unit, expected):
    assert grams(amount, unit) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(
    ("unit", "expected"),
    [
        ("US fl oz", 29.5735295625),  # gallon of 3785.411784 ml / 128, HB 44 App. C
        ("imp fl oz", 28.4130625),  # gallon of 4546.09 ml / 160, Units of Measurement Regulations 1995
        ("ML", 1),  # never megalitres
        ("l", 1000),
    ],
)
def test_volumes(unit, expected):
    assert millilitres(1, unit) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize("unit", ["fl oz", "gr", "G oz", "units", "", "ml"])
def test_what_is_no_weight_is_refused_with_the_spellings_we_read(unit):
    with pytest.raises(ValueError, match=r"is not a weight we read. Use one of: g, kg, mg, oz, lb"):
        grams(1, unit)


def test_an_ounce_of_weight_is_not_a_fluid_ounce():
    with pytest.raises(ValueError, match="not a volume"):
        millilitres(1, "oz")
    assert kind_of_unit("oz") == "weight"
    assert kind_of_unit("fl oz") == ""
