"""The scatter of a few readings, judged together with what the tool is known to scatter."""

import math
from dataclasses import dataclass

from scipy.special import fdtri

SURPRISE = 0.95  # readings that scatter beyond this share of what was assumed stand alone; ours


@dataclass(frozen=True, slots=True)
class Spread:
    """A standard deviation and its degrees of freedom; ``surprising`` when it outgrew the tool."""

    error: float
    freedom: float
    surprising: bool = False


def pooled(assumed: float, assumed_freedom: float, found: float, freedom: float) -> Spread:
    """Join an assumed standard deviation with one that was found.

    The pooled variance of JCGM 100:2008, 4.2.4; how sure the assumption is enters as degrees of
    freedom (its G.4.2). Where the readings scatter beyond what the assumption allows (F test),
    they alone count.

    Parameters
    ----------
    assumed, found : float
        Standard deviations, one unit.
    assumed_freedom, freedom : float
        Their degrees of freedom; ``freedom`` 0 means that nothing was found.
    """
    if freedom <= 0:
        return Spread(assumed, assumed_freedom)
    limit = float(fdtri(freedom, assumed_freedom, SURPRISE))
    if found**2 > limit * assumed**2:
        return Spread(found, freedom, surprising=True)
    total = assumed_freedom + freedom
    variance = (assumed_freedom * assumed**2 + freedom * found**2) / total
    return Spread(math.sqrt(variance), total)
