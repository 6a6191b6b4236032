"""What all tests share: a seeded generator, and a home of their own."""

import os
import tempfile
from pathlib import Path

# before Django reads its settings: tests never touch a real collection
os.environ.setdefault("OUTSHOP_HOME", tempfile.mkdtemp(prefix="outshop-test-"))

import numpy as np
import pytest
from hypothesis import settings

# the same examples in every run, and no clock: this machine may be busy
settings.register_profile("outshop", deadline=None, derandomize=True, max_examples=60)
settings.load_profile("outshop")

SHARED = Path(__file__).parents[2] / "shared"


@pytest.fixture(name="rng")
def _rng() -> np.random.Generator:
    return np.random.default_rng(20261125)


@pytest.fixture(name="shared_data", scope="session")
def _shared_data() -> Path:
    """Real recordings that may lie beside the project; skipped, with the reason, when not."""
    folder = SHARED / "data"
    if not folder.is_dir():
        pytest.skip("no real recordings beside the project (../shared/data)")
    return folder
