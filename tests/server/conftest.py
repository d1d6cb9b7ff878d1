"""Every async test of the server runs in virtual time."""

from asyncio import AbstractEventLoop
from collections.abc import Callable, Mapping

import pytest

from tests.loop import VirtualLoop


def pytest_asyncio_loop_factories(
    config: pytest.Config, item: pytest.Item
) -> Mapping[str, Callable[[], AbstractEventLoop]]:
    return {"virtual": VirtualLoop}
