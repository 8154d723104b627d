"""What all tests share: drawn examples are the same on every run in CI, new ones on a desk."""

import os

from hypothesis import settings

settings.register_profile("ci", derandomize=True)
if os.environ.get("CI"):
    settings.load_profile("ci")
