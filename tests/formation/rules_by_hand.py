"""Random rules of make-up and a slow, plain judge of them; shares no code with the project's."""

import itertools
import random

from outshop.formation.recipes import Recipe, Rule

from .scenes import couples, needed_at_crossings

KINDS = ("covered", "open", "tank", "brake-van", "coach-2", "luggage")
FAMILY_GOODS = ("covered", "open", "tank")
WEIGHT = {"forbidden": 4, "unusual": 2, "typical": 1}  # as documented


def random_recipe(rng: random.Random, number: int) -> Recipe:
    """Draw rules of every test; few are forbidden, so that most scenes have a train."""
    rules = []
    for n in range(number):
        test, args = rng.choice(MAKERS)(rng)
        strength = rng.choices(("forbidden", "unusual", "typical"), (1, 3, 4))[0]
        rules.append(Rule(f"r{n}", test, strength, "drawn", "drawn", args))
    return Recipe("drawn", "drawn", (), tuple(rules))


def some(rng):
    return [*rng.sample(KINDS, rng.randint(1, 2))]


MAKERS = (
    lambda rng: ("count", {"select": some(rng), "min": rng.randint(1, 3)}),
    lambda rng: ("count", {"select": some(rng), "max": rng.randint(0, 2)}),
    lambda rng: ("count", {"select": some(rng), "min": 1, "max": 1}),
    lambda rng: ("share", {"select": some(rng), "max_percent": rng.choice((25, 34, 50))}),
    lambda rng: ("share", {"select": some(rng), "of": ["family:goods"], "min_percent": 40}),
    lambda rng: ("axles", {"max": rng.randint(4, 14)}),
    lambda rng: ("place", {"select": some(rng), "at": rng.choice(("first", "last", "ends"))}),
    lambda rng: ("place", {"select": some(rng), "at": rng.choice(("not-first", "not-last"))}),
    lambda rng: ("order", {"groups": [[k] for k in rng.sample(KINDS, 3)], "either_way": True}),
    lambda rng: ("order", {"groups": [[k] for k in rng.sample(KINDS, 3)]}),
    lambda rng: ("together", {"select": some(rng)}),
    lambda rng: ("apart", {"select": some(rng), "between": 1, "away_from": "locomotive"}),
    lambda rng: ("apart", {"select": some(rng), "between": rng.randint(1, 2)}),
    lambda rng: ("apart", {"select": some(rng), "between": 1, "away_from": some(rng)}),
    lambda _: ("same", {"property": "country"}),
    lambda rng: ("mixture", {"property": "kind", "min": rng.randint(2, 4)}),
)


def chosen(selectors, body):
    return body.kind in selectors or ("family:goods" in selectors and body.kind in FAMILY_GOODS)


def kept(rule, train) -> bool:
    """Say whether a train keeps a rule, straight from the rule's words."""
    args = rule.args
    flags = [chosen(args.get("select", ()), v) for v in train]
    number = sum(flags)
    if rule.test == "count":
        return args.get("min", 0) <= number <= args.get("max", 99)
    if rule.test == "share":
        whole = sum(chosen(args["of"], v) for v in train) if "of" in args else len(train)
        return (
            args.get("min_percent", 0) * whole
            <= 100 * number
            <= (args.get("max_percent", 100) * whole)
        )
    if rule.test == "axles":
        return sum(v.axles for v in train) <= args["max"]
    if rule.test == "place":
        return in_place(args["at"], "".join("x" if f else "." for f in flags))
    if rule.test == "order":
        ranks = [r for v in train for r, g in enumerate(args["groups"]) if v.kind in g]
        rising = all(a <= b for a, b in itertools.pairwise(ranks))
        falling = all(a >= b for a, b in itertools.pairwise(ranks))
        return rising or (falling and args.get("either_way", False))
    if rule.test == "together":
        return len("".join("x" if f else " " for f in flags).split()) <= 1
    if rule.test == "apart":
        return far_apart(args, train, flags)
    values = {getattr(v, args["property"]) for v in train if getattr(v, args["property"])}
    return len(values) <= 1 if rule.test == "same" else len(values) >= args["min"]


def in_place(at, row: str) -> bool:
    if at == "not-first":
        return not row.startswith("x")
    if at == "not-last":
        return not row.endswith("x")
    if at == "first":
        return "x" not in row.lstrip("x")
    if at == "last":
        return "x" not in row.rstrip("x")
    return "x" not in row.strip("x")


def far_apart(args, train, flags) -> bool:
    if args.get("away_from") == "locomotive":
        return not any(flags[: args["between"]])
    others = [chosen(args["away_from"], v) for v in train] if "away_from" in args else flags
    return not any(
        one and other and 0 < abs(i - j) <= args["between"]
        for i, one in enumerate(flags)
        for j, other in enumerate(others)
    )


def best_believable_by_brute_force(asked, recipe) -> tuple[float, int, float] | None:
    """Best score, then most vehicles, then the longest, over all choices and orders."""
    tightest = min((s.radius_mm for s in asked.line if s.radius_mm), default=0)
    free = [v for v in asked.vehicles if not tightest or v.min_radius_mm <= tightest]
    total = sum(WEIGHT[r.strength] for r in recipe.rules)
    best = None
    for number in range(len(free), 0, -1):
        for train in itertools.permutations(free, number):
            length = sum(v.length_mm for v in train)
            if length + asked.locomotive.length_mm > asked.wish.loop_mm + 1e-9:
                continue
            held = [kept(r, train) for r in recipe.rules]
            judged = [*zip(recipe.rules, held, strict=True)]
            if any(r.strength == "forbidden" and not k for r, k in judged):
                continue
            weight = sum(WEIGHT[r.strength] for r, k in judged if k)
            value = (100 * weight / total if total else 100.0, number, length)
            if best is not None and value <= best:
                continue
            if not couples(asked.locomotive.couplings[1], train):
                continue
            if needed_at_crossings(asked, train) <= asked.locomotive.available_g + 1e-9:
                best = value
    return best


GENERAL = 2  # weight of the one rule that holds for every train; kept where no length scale is told


def score_by_hand(recipe, train) -> float:
    """Score under a recipe and the rule for every train."""
    met = sum(WEIGHT[r.strength] for r in recipe.rules if kept(r, train))
    return 100 * (GENERAL + met) / (GENERAL + sum(WEIGHT[r.strength] for r in recipe.rules))


def best_of_each_set(asked, recipe) -> dict[frozenset[str], float]:
    """Best score of any train of just these vehicles, for each set of which a train can be made."""
    tightest = min((s.radius_mm for s in asked.line if s.radius_mm), default=0)
    free = [v for v in asked.vehicles if not tightest or v.min_radius_mm <= tightest]
    best: dict[frozenset[str], float] = {}
    for number in range(1, len(free) + 1):
        for train in itertools.permutations(free, number):
            length = sum(v.length_mm for v in train) + asked.locomotive.length_mm
            if length > asked.wish.loop_mm + 1e-9:
                continue
            if any(r.strength == "forbidden" and not kept(r, train) for r in recipe.rules):
                continue
            names, score = frozenset(v.name for v in train), score_by_hand(recipe, train)
            if best.get(names, -1.0) >= score or not couples(asked.locomotive.couplings[1], train):
                continue
            if needed_at_crossings(asked, train) <= asked.locomotive.available_g + 1e-9:
                best[names] = score
    return best


def best_sharing(tables, aim) -> tuple[int, float, int]:
    """Trains filled, sum of their scores (believable only), vehicles: the best of all sharings."""
    best = (0, 0.0, 0)
    for choice in itertools.product(*([*table.items(), (frozenset(), 0.0)] for table in tables)):
        filled = [(names, score) for names, score in choice if names]
        number = sum(len(names) for names, _ in filled)
        if len({n for names, _ in filled for n in names}) == number:
            score = sum(score for _, score in filled) if aim == "believable" else 0.0
            best = max(best, (len(filled), round(score, 6), number))
    return best


def broken_demands(asked, recipe) -> set[frozenset[str]]:
    """What each train of the shelf breaks, over all choices and orders, by the demands' keys."""
    found = set()
    for number in range(1, len(asked.vehicles) + 1):
        for train in itertools.permutations(asked.vehicles, number):
            names = {v.name for v in train}
            length = sum(v.length_mm for v in train) + asked.locomotive.length_mm
            broken = {f"fixed:{n}" for n in asked.wish.fixed if n not in names}
            broken |= {
                f"rule:{r.id}"
                for r in recipe.rules
                if r.strength == "forbidden" and not kept(r, train)
            }
            if length > asked.wish.loop_mm + 1e-9:
                broken.add("loop")
            if not couples(asked.locomotive.couplings[1], train):
                broken.add("couplings")
            if needed_at_crossings(asked, train) > asked.locomotive.available_g + 1e-9:
                broken.add("force")
            found.add(frozenset(broken))
    return found


def smallest_clashes(broken) -> list[set[str]]:
    """Smallest sets of demands of which every train breaks one."""
    demands = sorted(set().union(*broken))
    for size in range(1, len(demands) + 1):
        some = [set(s) for s in itertools.combinations(demands, size)]
        if found := [s for s in some if all(s & one for one in broken)]:
            return found
    return []
