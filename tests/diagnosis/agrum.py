"""The same network for pyAgrum: an independent exact answer.

Each noisy-OR is written as a chain (parents divorced), one link per cause, so no table has more
than three variables. pyAgrum needs about a hundred milliseconds for a case of five findings,
which is why :mod:`outshop.diagnosis.inference` does the daily work; both must agree.
"""

import warnings
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from outshop.diagnosis.evidence import Evidence, Finding
from outshop.diagnosis.knowledge_base import Knowledge

with warnings.catch_warnings():
    # its wrapper types lack __module__; as an error that warning would end the process
    warnings.simplefilter("ignore", DeprecationWarning)
    import pyagrum as gum

_SOME = "some_cause"


def network(knowledge: Knowledge, evidence: Evidence) -> gum.BayesNet:
    """Build the case's network: causes, "some cause", and one chain for each finding."""
    net = gum.BayesNet("case")
    names = [c.id for c in knowledge.causes]
    for name, p in zip(names, evidence.prior, strict=True):
        net.add(gum.LabelizedVariable(name, name, 2))
        net.cpt(name).fillWith([1 - p, p])
    _chain(net, _SOME, names, 0.0, np.ones(len(names)))
    for finding in evidence.findings:
        _chain(net, _node(finding), names, finding.leak, finding.strength)
    return net


def marginals(knowledge: Knowledge, evidence: Evidence) -> NDArray[np.float64]:
    """P(cause | evidence, some cause) by pyAgrum's lazy propagation [shape=(causes,)]."""
    net = network(knowledge, evidence)
    inference = gum.LazyPropagation(net)
    said: dict[str, object] = {_node(f): [f.absent, f.there] for f in evidence.findings}
    said[_SOME] = 1
    for cause, factor in zip(knowledge.causes, evidence.factor, strict=True):
        if factor != 1:
            most = max(1.0, float(factor))
            said[cause.id] = [1 / most, float(factor) / most]
    inference.setEvidence(said)
    inference.makeInference()
    return np.array([inference.posterior(c.id)[1] for c in knowledge.causes])


def _node(finding: Finding) -> str:
    return finding.name.replace(":", "_")


def _chain(
    net: gum.BayesNet,
    name: str,
    causes: Sequence[str],
    leak: float,
    strength: NDArray[np.float64],
) -> None:
    """Add a noisy-OR as a chain of small tables; the last link carries the name."""
    before = ""
    for i, (cause, p) in enumerate(zip(causes, strength, strict=True)):
        link = name if i == len(causes) - 1 else f"{name}_{i}"
        net.add(gum.LabelizedVariable(link, link, 2))
        net.addArc(cause, link)
        if not before:
            there = 1 - (1 - leak) * (1 - p)
            net.cpt(link)[{cause: 0}] = [1 - leak, leak]
            net.cpt(link)[{cause: 1}] = [1 - there, there]
        else:
            net.addArc(before, link)
            table = net.cpt(link)
            table[{cause: 0, before: 0}] = [1, 0]
            table[{cause: 1, before: 0}] = [1 - p, p]
            table[{cause: 0, before: 1}] = [0, 1]
            table[{cause: 1, before: 1}] = [0, 1]
        before = link
