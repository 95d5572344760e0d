"""The street's own folder, and walks that several tests share."""

import pytest


@pytest.fixture(scope="module")
def street(tmp_path_factory):
    """Return a function from a house's folder to the walk through it, made once a module."""
    from tests.street.walk import Walk

    into = tmp_path_factory.mktemp("street")
    walks = {}

    def walk(folder):
        if folder not in walks:
            walks[folder] = Walk(folder, into)
        return walks[folder]

    return walk
