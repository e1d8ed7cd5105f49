"""What the program finds for the check values on the pages of the methods: page, case, figures."""

from collections.abc import Callable, Sequence

from tests.impact.hands import tree

IN_CM = 2.54
IN = 0.0254
FT = 0.3048
LB = 0.45359237
YD3 = 0.9144**3
IN2 = 6.4516

OAK = tree(cm=(50.0,))  # by AS 4970 a zone of 6 m

Found = Sequence[float | str]
Checks = dict[str, dict[str, Callable[[], Found]]]
"""Page -> beginning of a row's case -> the row's numbers and words in order."""
