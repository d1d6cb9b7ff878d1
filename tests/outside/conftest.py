"""One browser for all tests of a module."""

from collections.abc import Iterator

import pytest

from tests.outside.chromium import Chromium, chromium


@pytest.fixture(scope="module")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Chromium]:
    with chromium(tmp_path_factory.mktemp("chromium")) as running:
        yield running
