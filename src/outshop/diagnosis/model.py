"""What the knowledge consists of: frozen records, as read from the TOML tables."""

from collections.abc import Mapping
from dataclasses import dataclass, field

Factors = Mapping[str, float]


@dataclass(frozen=True, slots=True)
class Weighting:
    """Factors by which context moves a weight; what is not named counts 1."""

    system: Factors = field(default_factory=dict)
    motor: Factors = field(default_factory=dict)
    years: Factors = field(default_factory=dict)
    history: Factors = field(default_factory=dict)
    outline: Factors = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Group:
    """A group of causes that an owner would call by one name.

    Parameters
    ----------
    weight : float
        How many of 100 complaints come down to this group, before any context.
    family : str
        Name under which signs may give one strength to several groups.
    """

    id: str
    name: str
    family: str
    weight: float
    context: Weighting
    why: str
    source: str


@dataclass(frozen=True, slots=True)
class Cause:
    """One cause, with what confirms and what cures it.

    Parameters
    ----------
    share : float
        Share of its group's weight, 0 to 1.
    place : tuple of str
        Where it sits, for the axle diagram and the part list.
    confirm : str
        The check that settles it.
    signs : mapping
        Sign id to strength, where the cause differs from its group.
    minutes : float
        Bench time of a practised amateur for the remedy.
    """

    id: str
    group: str
    name: str
    share: float
    place: tuple[str, ...]
    confirm: str
    remedy: str
    minutes: float
    cautions: tuple[str, ...]
    source: str
    context: Weighting
    signs: Factors


@dataclass(frozen=True, slots=True)
class When:
    """Other strengths of a sign under a system, motor or age band."""

    system: tuple[str, ...]
    motor: tuple[str, ...]
    years: tuple[str, ...]
    group: Factors
    cause: Factors


@dataclass(frozen=True, slots=True)
class Sign:
    """Something that may be observed, with its strengths: P(there | cause).

    Parameters
    ----------
    usual : float
        For a healthy sign (``healthy``): how often it is reported when nothing hinders it.
    otherwise : float
        Strength of every cause not named.
    leak : float
        How often it is there though no cause is.
    frequency : float
        For history signs: share of complaints that have it.
    """

    id: str
    kind: str
    asks: str
    why: str = ""
    healthy: bool = False
    usual: float = 0.0
    otherwise: float = 0.0
    leak: float = 0.0
    frequency: float = 0.0
    implies: tuple[str, ...] = ()
    excludes: tuple[str, ...] = ()
    family: Factors = field(default_factory=dict)
    group: Factors = field(default_factory=dict)
    cause: Factors = field(default_factory=dict)
    when: tuple[When, ...] = ()


@dataclass(frozen=True, slots=True)
class Pattern:
    """A fitter's rule: what signs mean together, as a factor on the odds of groups."""

    id: str
    yes: tuple[str, ...]
    no: tuple[str, ...]
    system: tuple[str, ...]
    motor: tuple[str, ...]
    years: tuple[str, ...]
    factor: Factors
    why: str
    source: str


@dataclass(frozen=True, slots=True)
class Check:
    """One thing to do next, what it costs and which signs it tells.

    Parameters
    ----------
    opens : str
        ``nothing``, ``body``, ``motor`` or ``strip``.
    risk_model, risk_person : int
        0 none, 1 small, 2 real.
    tells : tuple of str
        Signs that are known afterwards.
    means, else_means : str
        What a found and a not found outcome say.
    """

    id: str
    name: str
    minutes: float
    opens: str
    power: bool
    risk_model: int
    risk_person: int
    cautions: tuple[str, ...]
    tells: tuple[str, ...]
    system: tuple[str, ...]
    motor: tuple[str, ...]
    means: str
    else_means: str
    source: str


@dataclass(frozen=True, slots=True)
class Side:
    """One side of a measured limit: the sign it speaks for, and limits by system."""

    sign: str
    limit: float
    by_system: Factors

    def limit_for(self, system: str | None) -> float:
        """Give the limit for a system, or the general one."""
        return self.by_system.get(system or "", self.limit)


@dataclass(frozen=True, slots=True)
class Verdict:
    """What one word of a verdict says about signs."""

    yes: tuple[str, ...]
    no: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Quantity:
    """A measured key and how it becomes soft evidence."""

    key: str
    name: str
    unit: str
    scale: str
    blur: float
    same_as: tuple[str, ...]
    above: Side | None
    below: Side | None
    verdicts: Mapping[str, Verdict]
    source: str
    also: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Stop:
    """A stop-sign and what raises it."""

    id: str
    says: str
    signs: tuple[str, ...]
    group: str
    above: float
    years: tuple[str, ...]
    cleared_by: tuple[str, ...]
    no_power: bool
    source: str
