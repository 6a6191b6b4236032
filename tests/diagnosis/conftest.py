"""An independent, slow reference: every subset of causes, one by one, in plain Python."""

from itertools import product

import pytest


def noisy_or(leak, strengths, present):
    missing = 1 - leak
    for p, on in zip(strengths, present, strict=True):
        if on:
            missing *= 1 - p
    return 1 - missing


def enumerate_all(prior, findings, factors=None):
    """Marginals given at least one cause.

    ``findings`` is a list of (leak, strengths, likelihood absent, likelihood there).
    Returns (P(each cause), P(evidence and some cause), joint by subset).
    """
    n = len(prior)
    joint = {}
    for present in product((False, True), repeat=n):
        if not any(present):
            continue
        weight = 1.0
        for i, on in enumerate(present):
            weight *= prior[i] if on else 1 - prior[i]
            if on and factors is not None:
                weight *= factors[i]
        for leak, strengths, absent, there in findings:
            p = noisy_or(leak, strengths, present)
            weight *= absent * (1 - p) + there * p
        joint[present] = weight
    total = sum(joint.values())
    marginal = [sum(w for s, w in joint.items() if s[i]) / total for i in range(n)]
    return marginal, total, joint


@pytest.fixture(name="enumerate_all", scope="session")
def _enumerate_all():
    return enumerate_all
