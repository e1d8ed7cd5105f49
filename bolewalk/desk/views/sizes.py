"""Sizes of files as pages say them."""

__all__ = ["bytes_in_words"]


def bytes_in_words(n: int) -> str:
    """Give a size as people say it, in steps of 1000.

    Examples
    --------
    >>> bytes_in_words(1), bytes_in_words(26_900), bytes_in_words(3_140_000)
    ('1 kB', '27 kB', '3.1 MB')
    """
    if n >= 1_000_000_000:
        return f"{n / 1_000_000_000:.1f} GB"
    return f"{n / 1_000_000:.1f} MB" if n >= 1_000_000 else f"{max(1, round(n / 1000))} kB"
