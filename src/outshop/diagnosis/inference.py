"""Exact inference in a two-layer noisy-OR network, by summing over sets of findings.

Every finding is a noisy-OR of the causes. Going through the causes one by one, the only thing
to remember of those already passed is which findings they have brought about: 2^m states for
m findings. A forward and a backward pass over these states give every marginal exactly, with
sums and products of numbers that are never negative, so nothing cancels. Cost: causes × m × 2^m.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Posterior:
    """Exact marginals given the evidence and that at least one cause is true.

    Parameters
    ----------
    cause : array [shape=(variants, causes)]
        P(cause | evidence).
    group : array [shape=(variants, groups)]
        P(at least one cause of the group | evidence).
    evidence : array [shape=(variants,)]
        P(evidence and at least one cause).
    """

    cause: Array
    group: Array
    evidence: Array


def infer(
    prior: Array,
    factor: Array,
    leak: Array,
    strength: Array,
    weight: Array,
    group: NDArray[np.intp],
) -> Posterior:
    """Compute all marginals for several variants of the evidence at once.

    Parameters
    ----------
    prior : array [shape=(variants, causes)]
        P(cause) before signs.
    factor : array [shape=(variants, causes)]
        Likelihood ratio of factorising evidence for cause present against absent.
    leak : array [shape=(m,)]
        P(finding | no cause).
    strength : array [shape=(causes, m)]
        P(cause alone, without leak, brings the finding about).
    weight : array [shape=(variants, m, 2)]
        Likelihood of what was observed given the finding absent, and there.
    group : array of int [shape=(causes,)]
        Group of each cause, ascending.

    Returns
    -------
    Posterior
    """
    variants, causes = prior.shape
    m = len(leak)
    absent = 1 - prior
    present = prior * factor
    scale = absent + present  # keeps the running sums near 1
    absent, present = (absent / scale)[..., None], (present / scale)[..., None]

    start = np.broadcast_to(_product(np.stack([1 - leak, leak], axis=-1)), (variants, 1 << m))
    forward = [np.array(start)]
    for c in range(causes):
        before = forward[-1]
        forward.append(absent[:, c] * before + present[:, c] * _bring(before, strength[c]))
    backward = np.stack([_product(w) for w in weight]) if m else np.ones((variants, 1))

    with_cause = np.empty((variants, causes))
    without_group = np.empty((variants, int(group.max()) + 1))
    after = backward
    for g in range(without_group.shape[1] - 1, -1, -1):
        members = np.flatnonzero(group == g)
        bottom = after
        for c in members[::-1]:
            with_cause[:, c] = _dot(present[:, c] * _bring(forward[c], strength[c]), after)
            after = absent[:, c] * after + present[:, c] * _pull(after, strength[c])
        none = np.prod(absent[:, members, 0], axis=1)
        without_group[:, g] = none * _dot(forward[members[0]], bottom)

    total = _dot(start, after)
    nothing = np.prod(absent[..., 0], axis=1) * _dot(start, backward)
    some = np.maximum(total - nothing, np.finfo(float).tiny)
    share = np.clip(with_cause / some[:, None], 0, 1)
    none_of = np.clip((without_group - nothing[:, None]) / some[:, None], 0, 1)
    return Posterior(share, 1 - none_of, some * np.prod(scale, axis=1))


def _product(pairs: Array) -> Array:
    """Outer product of m pairs (off, on) [shape=(m, 2)] over the 2^m states; bit 0 first."""
    table = np.ones(1)
    for off, on in pairs:
        table = np.concatenate([table * off, table * on])
    return table


def _bring(states: Array, strength: Array) -> Array:
    """Let a true cause bring findings about: each absent bit j is set with strength j."""
    moved = np.array(states)
    for j, p in enumerate(strength):
        if p > 0:
            split = moved.reshape(len(moved), -1, 2, 1 << j)
            off = split[:, :, 0]
            split[:, :, 1] += off * p
            off *= 1 - p
    return moved


def _pull(states: Array, strength: Array) -> Array:
    """Transpose of :func:`_bring`."""
    moved = np.array(states)
    for j, p in enumerate(strength):
        if p > 0:
            split = moved.reshape(len(moved), -1, 2, 1 << j)
            off = split[:, :, 0]
            off *= 1 - p
            off += split[:, :, 1] * p
    return moved


def _dot(left: Array, right: Array) -> Array:
    return np.asarray(np.einsum("vs,vs->v", left, right))
