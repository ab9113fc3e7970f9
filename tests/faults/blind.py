"""A test that reaches the code and checks nothing: no change of the code is noticed by it."""

from leanwright.quantities import convert


def test_blind() -> None:
    convert(1.0, "degC", "degF")
