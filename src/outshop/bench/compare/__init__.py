"""Before and after: two benches of the same programme become differences and verdicts."""

from outshop.bench.compare.footing import Footing, find_footing
from outshop.bench.compare.rows import (
    BETTER,
    NO_CHANGE,
    NOT_COMPARABLE,
    WORSE,
    Comparison,
    Row,
    compare,
)

__all__ = [
    "BETTER",
    "NOT_COMPARABLE",
    "NO_CHANGE",
    "WORSE",
    "Comparison",
    "Footing",
    "Row",
    "compare",
    "find_footing",
]
