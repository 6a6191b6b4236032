"""How often does the interval of the minutes left hold the truth? Prints the docs' table."""

import numpy as np

from outshop.estimate import Estimate
from outshop.workshop.settling import AHEAD_MIN, TOLERANCE, fit_settling, minutes_left

RUNS = 400
CASES = [  # time constant, drop as share of the final value, noise likewise, readings, rho
    (4, 0.5, 0.01, 10, 0.0),
    (4, 0.5, 0.03, 15, 0.0),
    (8, 0.3, 0.02, 20, 0.0),
    (15, 0.4, 0.02, 20, 0.0),
    (20, 0.6, 0.01, 30, 0.0),
    (3, 0.05, 0.02, 20, 0.0),
    (5, 0.01, 0.01, 20, 0.0),
    (4, 0.5, 0.03, 15, 0.5),
]


def noise(rng: np.random.Generator, count: int, rho: float) -> np.ndarray:
    """Draw scatter of unit variance whose neighbours correlate by ``rho``."""
    fresh = rng.normal(0, 1, count)
    for i in range(1, count):
        fresh[i] = rho * fresh[i - 1] + np.sqrt(1 - rho**2) * fresh[i]
    return fresh


def study(case: tuple[float, float, float, int, float], rng: np.random.Generator) -> str:
    """Run one case and give its table line."""
    tau, share, sigma, count, rho = case
    next_change = share * (1 - np.exp(-AHEAD_MIN / tau))
    true = max(0.0, tau * np.log(next_change / TOLERANCE))
    t = np.arange(count) + 0.5
    left_hits = at_hits = shown = 0
    widths = []
    for _ in range(RUNS):
        y = 0.2 * (1 + share * np.exp(-t / tau) + sigma * noise(rng, count, rho))
        fit = fit_settling(t, y)
        left = minutes_left(fit, count)
        if isinstance(left, Estimate):
            shown += 1
            left_hits += left.low <= max(0.0, true - count) <= left.high
            at_hits += fit.settled_at.low <= true <= fit.settled_at.high
            widths.append(left.high - left.low)
    return (
        f"| {tau} | {share:.0%} | {sigma:.0%} | {count} | {rho} | {true:.1f} | "
        f"{shown / RUNS:.0%} | {left_hits / shown:.1%} | {at_hits / shown:.1%} | "
        f"{np.median(widths):.1f} |"
    )


def main() -> None:
    """Print the table."""
    print(
        "| τ min | drop | noise | readings | ρ | settles at min | answered | "
        "minutes left covered | settled minute covered | median width min |"
    )
    print("|---|---|---|---|---|---|---|---|---|---|")
    for number, case in enumerate(CASES):
        print(study(case, np.random.default_rng(number)))


if __name__ == "__main__":
    main()
