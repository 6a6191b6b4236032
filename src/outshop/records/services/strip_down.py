"""The strip-down plan of a piece: taken over by construction, then adapted."""

from outshop.errors import InputError, KnowledgeError
from outshop.records.models import Piece, StripDownPlan
from outshop.workshop import plans
from outshop.workshop.strip_down import Removal, StripPlan, find_loop

from .saving import add, change, use_case


def kept_plan(piece: Piece) -> StripDownPlan | None:
    """Give the kept plan of a piece's edition, or of the piece itself; None when there is none."""
    own = StripDownPlan.objects.filter(piece=piece).first()
    if own is None and piece.edition_id:
        own = StripDownPlan.objects.filter(edition_id=piece.edition_id).first()
    return own


def usual_construction(piece: Piece) -> str:
    """Guess the construction from kind and arrangement, until the person says which."""
    arrangement = piece.known_arrangement
    if piece.kind == Piece.Kind.STEAM:
        return "tender-steam" if "+" in arrangement else "tank-steam"
    if piece.kind == Piece.Kind.RAILCAR:
        return "railcar"
    if piece.kind in (Piece.Kind.DIESEL, Piece.Kind.ELECTRIC):
        # Bo'Bo' and the like: every driven axle has its motor or gear, so there are no rods.
        bogies = "'" in arrangement.replace("1'", "") or "o" in arrangement
        return "rod-drive" if arrangement and not bogies else "bogie"
    return "general"


def plan_of(piece: Piece) -> StripPlan:
    """Give the plan that the workshop should go by."""
    kept = kept_plan(piece)
    return kept.known if kept else plans.plan_for(usual_construction(piece))


@use_case
def choose_construction(*, piece: Piece, construction: str) -> StripDownPlan:
    """Begin a plan anew from a construction; it holds for the whole edition when there is one.

    Raises
    ------
    MissingError
        There is no such construction.
    """
    return _keep(piece, plans.plan_for(construction), construction)


@use_case
def save_removal(
    *, piece: Piece, removal: Removal, reaches: tuple[str, ...] | None = None
) -> StripDownPlan:
    """Add a removal to the plan, or change the one with its key.

    Raises
    ------
    KnowledgeError
        Removals would wait for each other; nothing is kept, the loop is named.
    """
    plan = plans.with_removal(plan_of(piece), removal)
    if reaches is not None:
        plan = plans.with_reach(plan, removal.id, reaches)
    loop = find_loop(plan)
    if loop:
        titles = " → ".join(plan.removal(name).title for name in loop)
        message = f"these removals would wait for each other: {titles}; take one link out"
        raise KnowledgeError(message)
    return _keep(piece, plan)


@use_case
def drop_removal(*, piece: Piece, name: str) -> StripDownPlan:
    """Take a removal out of the plan.

    Raises
    ------
    MissingError
        It is not in the plan.
    InputError
        It is the last one.
    """
    plan = plan_of(piece)
    if len(plan.removals) == 1:
        message = "a plan keeps at least one removal; change this one instead"
        raise InputError(message)
    return _keep(piece, plans.without_removal(plan, name))


def _keep(piece: Piece, plan: StripPlan, construction: str = "") -> StripDownPlan:
    kept = kept_plan(piece)
    shape = plans.plan_as_json(plan)
    if kept is None:
        owner = {"edition": piece.edition} if piece.edition else {"piece": piece}
        name = construction or usual_construction(piece)
        return add(StripDownPlan(construction=name, plan=shape, **owner))
    fields = {"plan": shape} | ({"construction": construction} if construction else {})
    return change(kept, version=None, fields=fields)
