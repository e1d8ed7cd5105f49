"""What the program finds for the check values on the pages of the methods: page, case, figures."""

from collections.abc import Callable, Sequence

Found = Sequence[float | str]
Checks = dict[str, dict[str, Callable[[], Found]]]
"""Page -> beginning of a row's case -> the row's numbers and words in order."""
