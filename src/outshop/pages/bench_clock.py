"""The time that the run-in clock and the bench programme go by.

``OUTSHOP_CLOCK_RATE`` lets it run faster, for tests only; it is read once at the start.
"""

import os
from datetime import datetime

from django.utils import timezone

RATE = max(float(os.environ.get("OUTSHOP_CLOCK_RATE") or 1), 1.0)
_BEGAN = timezone.now()


def now() -> datetime:
    """Give the present; with a rate of 60 a second counts as a minute."""
    present = timezone.now()
    return present if RATE == 1 else _BEGAN + (present - _BEGAN) * RATE
