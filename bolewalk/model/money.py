"""Reading an amount of money into whole minor units (cents)."""

from decimal import Decimal, InvalidOperation

__all__ = ["to_minor"]


def to_minor(amount: float | Decimal | str, *, minor_digits: int) -> int:
    """Turn an amount written in the currency's main unit into minor units, exactly.

    Parameters
    ----------
    amount : float, Decimal or str
        "1150", 1150.5, Decimal("0.35"); a float counts as the digits it is written with.
    minor_digits : int
        Digits after the point, 0..3.

    Raises
    ------
    ValueError
        Not a number, not finite, or finer than the minor unit: nothing is rounded on reading.

    Examples
    --------
    >>> to_minor(2043.75, minor_digits=2)
    204375
    """
    try:
        scaled = Decimal(str(amount)).scaleb(minor_digits)
    except InvalidOperation as e:
        raise ValueError(f"{amount!r} is not an amount of money") from e
    if not scaled.is_finite():
        raise ValueError(f"{amount!r} is not an amount of money")
    if scaled != scaled.to_integral_value():
        raise ValueError(f"{amount!r} is finer than {minor_digits} digits after the point")
    return int(scaled)
