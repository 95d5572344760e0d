"""What all tests share: one reproducible hypothesis profile."""

import hypothesis

hypothesis.settings.register_profile("house", deadline=None, derandomize=True, print_blob=True)
hypothesis.settings.load_profile("house")
