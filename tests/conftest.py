"""What all tests share."""

import os

from hypothesis import settings

# A busy machine is not a defect: speed is measured in bench/. `steady` draws the same examples
# every time, so that a failure can be seen again; scripts/long asks for `long`.
settings.register_profile("steady", deadline=None, derandomize=True)
settings.register_profile("long", deadline=None, max_examples=2000)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "steady"))
