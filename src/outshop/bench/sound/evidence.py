"""How well a motor speed explains an order spectrum: likelihood of lines heard and not heard."""

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import maximum_filter1d, uniform_filter1d

from outshop.bench.sound.drive import Drive, commutation_order
from outshop.bench.sound.names import NamedOrder, shaft_orders
from outshop.bench.sound.warp import OrderSpectrum
from outshop.bench.sound.weighting import FloatArray

LOWEST_HZ = 60.0  # below, phones record next to nothing; ours
GRID = 0.0005  # step of the log-frequency grid; ours: finer than a line is wide
TOLERANCE = 0.0015  # a line may lie so far from its order; ours, from simulations
SKIRT_HZ, SKIRT_DB = 30.0, 28.0  # a Hann window's side lobes start 31 dB down (Harris 1978)
TOP_PEAKS = 15  # strongest lines that a true drive should explain; ours
HEARD_FROM_HZ = 250.0  # lower lines are more often lost to the phone's high-pass; ours


@dataclass(frozen=True)
class Lines:
    """An order spectrum laid on a logarithmic grid for fast look-up.

    Parameters
    ----------
    lowest_hz : float
        Frequency of the first grid point.
    excess_db : array [shape=(n,)]
        Largest excess within the tolerance of each grid point.
    heard : array [shape=(n,)]
        Whether that is a line.
    chance : array [shape=(n,)]
        Share of the surroundings that is heard: chance of a false coincidence.
    threshold_db : float
        Excess that makes a line.
    """

    lowest_hz: float
    excess_db: FloatArray
    heard: FloatArray
    chance: FloatArray
    threshold_db: float

    @property
    def highest_hz(self) -> float:
        """Frequency of the last grid point."""
        return float(self.lowest_hz * np.exp(GRID * (self.excess_db.size - 1)))

    def index(self, frequency_hz: FloatArray) -> np.ndarray:
        """Nearest grid points of frequencies, not clipped."""
        return np.round(np.log(frequency_hz / self.lowest_hz) / GRID).astype(int)


def lay_lines(spectrum: OrderSpectrum, highest_hz: float) -> Lines:
    """Lay an order spectrum on the grid from 60 Hz to ``highest_hz``."""
    count = int(np.log(highest_hz / LOWEST_HZ) / GRID)
    grid = LOWEST_HZ * np.exp(GRID * np.arange(count))
    excess = np.interp(grid, spectrum.frequency_hz, _without_skirts(spectrum))
    reach = int(2 * TOLERANCE / GRID) + 1
    excess = maximum_filter1d(excess, reach)
    threshold = max(3.5, 4.5 * spectrum.spread_db)
    heard = (excess >= threshold).astype(float)
    chance = uniform_filter1d(heard, int(0.5 / GRID), mode="nearest")
    return Lines(LOWEST_HZ, excess, heard, np.clip(chance, 0.03, 0.6), threshold)


def _without_skirts(spectrum: OrderSpectrum) -> FloatArray:
    """Excess in dB, with the window's side lobes around very strong lines put to nothing."""
    reach = 2 * int(SKIRT_HZ / spectrum.frequency_hz[1]) + 1
    strongest = maximum_filter1d(spectrum.excess_db, reach)
    return np.where(spectrum.excess_db < strongest - SKIRT_DB, 0.0, spectrum.excess_db)


def likelihood(lines: Lines, orders: tuple[NamedOrder, ...], speeds: FloatArray) -> FloatArray:
    """Log likelihood ratio of each speed over chance.

    Parameters
    ----------
    lines : Lines
        The order spectrum.
    orders : tuple of NamedOrder
        Orders of the drive, with the prior chance that each is heard.
    speeds : array [shape=(n,)]
        Motor speeds in 1/s.

    Returns
    -------
    array [shape=(n,)]
        Sum over the orders in range of log(p/chance) where a line is heard and
        log((1 − p)/(1 − chance)) where none is.
    """
    total = np.zeros(speeds.size)
    for order in orders:
        frequency = order.order * speeds
        index = lines.index(frequency)
        inside = (index >= 0) & (index < lines.heard.size)
        at = index[inside]
        prior = order.heard * np.minimum(1, frequency[inside] / HEARD_FROM_HZ)
        chance = lines.chance[at]
        yes = np.log(prior / chance)
        no = np.log((1 - prior) / (1 - chance))
        total[inside] += np.where(lines.heard[at] > 0, yes, no)
    return total


@dataclass(frozen=True, slots=True)
class Fit:
    """How well one speed fits.

    Parameters
    ----------
    likelihood : float
        Log likelihood ratio over chance.
    heard_share : float
        Share of the expected lines heard, weighted by how surely each is expected.
    explained_share : float
        Share of the strongest lines that the drive explains.
    families : int
        Independent groups of harmonics heard: motor, commutation, each stage.
    families_known : int
        Groups that lie in the range.
    """

    likelihood: float
    heard_share: float
    explained_share: float
    families: int
    families_known: int


def fit(
    lines: Lines,
    spectrum: OrderSpectrum,
    drive: Drive,
    orders: tuple[NamedOrder, ...],
    speed: float,
) -> Fit:
    """Weigh one motor speed (1/s) against the spectrum."""
    heard, expected = 0.0, 0.0
    known: set[str] = set()
    found: set[str] = set()
    for order in orders:
        index = int(lines.index(np.array([order.order * speed]))[0])
        if not 0 <= index < lines.heard.size:
            continue
        weight = order.heard * min(1.0, order.order * speed / HEARD_FROM_HZ)
        expected += weight
        known.add(order.family)
        if lines.heard[index]:
            heard += weight
            found.add(order.family)
    return Fit(
        float(likelihood(lines, orders, np.array([speed]))[0]),
        heard / expected if expected else 0.0,
        _explained(lines, spectrum, drive, orders, speed),
        len(found),
        len(known),
    )


def peaks(
    spectrum: OrderSpectrum, threshold_db: float, lowest_hz: float, highest_hz: float
) -> np.ndarray:
    """Give the indices of lines above a threshold, strongest first."""
    excess = _without_skirts(spectrum)
    top = (excess[1:-1] > excess[2:]) & (excess[1:-1] >= excess[:-2])
    index = np.flatnonzero(top & (excess[1:-1] >= threshold_db)) + 1
    frequency = spectrum.frequency_hz[index]
    index = index[(frequency > lowest_hz) & (frequency < highest_hz)]
    return np.asarray(index[np.argsort(-excess[index])])


def _explained(
    lines: Lines,
    spectrum: OrderSpectrum,
    drive: Drive,
    orders: tuple[NamedOrder, ...],
    speed: float,
) -> float:
    index = peaks(spectrum, lines.threshold_db, lines.lowest_hz, lines.highest_hz)[:TOP_PEAKS]
    if index.size == 0:
        return 0.0
    allowed = explainable_orders(drive, orders)
    frequency = spectrum.frequency_hz[index]
    near = np.abs(frequency[:, None] - allowed[None, :] * speed)
    width = TOLERANCE * frequency + spectrum.frequency_hz[1]
    weight = spectrum.excess_db[index]
    return float(weight[(near < width[:, None]).any(1)].sum() / weight.sum())


def explainable_orders(drive: Drive, orders: tuple[NamedOrder, ...]) -> FloatArray:
    """Orders that a drive may also make: higher harmonics, side bands at shaft turns."""
    out = {o.order for o in orders} | {3.0, 4.0}
    if drive.poles:
        out |= {commutation_order(drive.poles) * float(k) for k in range(1, 9)}
    shafts = [turns for _, turns in shaft_orders(drive)]
    for number, stage in enumerate(drive.stages):
        mesh = shafts[number] * stage.driver_teeth
        for k in range(1, 7):
            out.add(k * mesh)
            for turns in (shafts[number], shafts[number + 1]):
                out |= {k * mesh - turns, k * mesh + turns}
    return np.array(sorted(o for o in out if o > 0))
