"""One small city for all tests of this folder, and its answer by one process in one go."""

import pytest

from bolewalk.region.city import write_city
from bolewalk.region.screen import screen

TREES, WORKS = 14_000, 150


@pytest.fixture(scope="session")
def city(tmp_path_factory):
    return write_city(tmp_path_factory.mktemp("city"), trees=TREES, works=WORKS)


@pytest.fixture(scope="session")
def reference(city, tmp_path_factory):
    out = tmp_path_factory.mktemp("reference")
    return out, screen(*city, out, partitions=1)
