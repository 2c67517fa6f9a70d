"""A browser for pages, where one is installed."""

import pytest

from browser import CHROMIUM, Browser


@pytest.fixture(scope="session")
def browser(tmp_path_factory):
    if not CHROMIUM:
        pytest.skip("no chromium is installed")
    browser = Browser(tmp_path_factory.mktemp("browser"))
    yield browser
    browser.close()
