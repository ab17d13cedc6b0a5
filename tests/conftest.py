"""Settings every test runs under: its own data folder, and kernels compiled once for all of them."""

import os
import tempfile
from pathlib import Path

import django
import pytest
from django.conf import settings

ROOT = Path(__file__).resolve().parent.parent


def pytest_addoption(parser: pytest.Parser) -> None:
    """Let `make study` kill more often than CI has time for."""
    parser.addoption("--kills", type=int, default=15, help="how often the server is killed at a random moment")


def pytest_configure(config: pytest.Config) -> None:
    """Name the data folder before Django's settings are read, then read them."""
    folder = tempfile.TemporaryDirectory(prefix="plasmawright-tests-")
    config.add_cleanup(folder.cleanup)
    os.environ["PLASMAWRIGHT_DATA"] = folder.name
    os.environ.setdefault("NUMBA_CACHE_DIR", str(ROOT / ".numba_cache"))
    os.environ["DJANGO_SETTINGS_MODULE"] = "plasmawright.config.settings"
    django.setup()
    settings.PASSWORD_HASHERS = ["tests.quick_hasher.QuickArgon2"]


@pytest.fixture
def root() -> Path:
    """Return the folder of the repository."""
    return ROOT
