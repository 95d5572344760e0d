"""What the tests of fetching share: a service on loopback, an empty cache, an empty folder."""

import pytest

import yieldkit.physics.compiled  # noqa: F401  (its cache is chosen on import: the usual one)
from tests.weather.services.answering import service
from yieldkit.weather.services import asking, services


@pytest.fixture(scope="session")
def listening():
    with service() as asked:
        yield asked


@pytest.fixture
def asked(listening, tmp_path, monkeypatch):
    """Return the service; the product asks it, from an empty folder and with an empty cache."""
    for name in services.ADDRESSES:
        monkeypatch.setitem(services.ADDRESSES, name, listening.address)
    monkeypatch.setattr(asking, "TIMEOUT_S", 5.0)
    monkeypatch.setenv("YIELDKIT_CACHE", str(tmp_path / "cache"))
    for name in ("HTTP_PROXY", "http_proxy", "ALL_PROXY", "all_proxy", services.KEY, services.MAIL):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("NO_PROXY", "127.0.0.1")
    folder = tmp_path / "work"
    folder.mkdir()
    monkeypatch.chdir(folder)
    return listening
