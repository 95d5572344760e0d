"""What all tests share: one reproducible hypothesis profile, and interrupts that are heard."""

import os
import signal

# Threads of linear algebra that wait for one another take longer than one beside other tests.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import hypothesis
import pytest

# Helpers with asserts of their own, whoever imports them first.
pytest.register_assert_rewrite(
    "tests.street.house_checks", "tests.street.page_checks", "tests.street.walk"
)
hypothesis.settings.register_profile("house", deadline=None, derandomize=True, print_blob=True)
hypothesis.settings.load_profile("house")


@pytest.fixture
def interruptible():
    """Let interrupts be heard, here and in programs started meanwhile.

    A shell starts what runs in its background with the interrupt ignored, and whoever is started
    so hands that on.
    """
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)
