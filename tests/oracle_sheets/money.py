"""Prices a version: what is bought, what each line costs, charges, the final figure. Money is in dollars, rounded once where the job says."""

from fractions import Fraction

from working import rounded

CENT = Fraction(1, 100)
MATERIALS = ("stock", "glass", "points", "putty", "other")


def ceiling(value):
    return -((-value.numerator) // value.denominator)


def shares(cents, weights):
    """A sum cut in proportion, by largest remainder, ties to the first."""
    whole = sum(weights)
    if not whole:
        return [0] * len(weights)
    exact = [cents * w / whole for w in weights]
    parts = [e.numerator // e.denominator for e in exact]
    order = sorted(range(len(parts)), key=lambda at: (parts[at] - exact[at], at))
    for at in order[: cents - sum(parts)]:
        parts[at] += 1
    return parts


class Priced:
    def __init__(self, world, terms):
        self.world, self.terms = world, terms
        self.amounts = world.amounts()
        self.lines = []
        self.bought = []
        self.by_phase, self.by_wing = {}, {}
        for name, resource in terms.resources.items():
            if resource.kind == "labor":
                self.labor(name, resource)
            else:
                self.goods(name, resource)
        self.charges = []
        for charge in terms.charges:
            self.charge(charge)
        self.direct = sum(l["cents"] for l in self.lines)
        total = self.direct + sum(c["cents"] for c in self.charges)
        self.final = 0
        if terms.final:
            mode, step = terms.final
            self.final = rounded(Fraction(total), step * 100, mode) - total
        self.grand = total + self.final

    def to_cents(self, value):
        return int(rounded(value, CENT, self.terms.ties) * 100)

    def value(self, resource, what):
        """A price or a waste as the layers leave it."""
        stages = self.world.in_force(getattr(resource, what))
        if not stages:
            return None
        formula = stages[-1].formula
        return formula(self.world, self.world.rows("job")[0], None)

    def cost(self, phases, price):
        """Exact and in cents: rounded once, or in each phase for each opening and for what belongs to none."""
        amounts = [a for by_opening in phases for a in by_opening.values()]
        exact = sum(amounts) * price
        if self.terms.each_opening:
            return exact, sum(self.to_cents(a * price) for a in amounts)
        return exact, self.to_cents(exact)

    def labor(self, name, resource):
        price = self.value(resource, "price")
        for phase in self.terms.phases:
            by_opening = self.amounts.get((name, phase))
            if by_opening:
                hours = {o: a / resource.unit_base for o, a in by_opening.items()}
                exact, cents = self.cost([hours], price)
                self.line(name, resource, phase, sum(hours.values()), exact, cents)
                self.part(cents, [(phase, hours)], price, rounds_each=True)

    def goods(self, name, resource):
        price = self.value(resource, "price")
        in_phases = [
            (phase, {o: a / resource.unit_base for o, a in self.amounts[name, phase].items()})
            for phase in self.terms.phases
            if (name, phase) in self.amounts
        ]
        phases = [amounts for _, amounts in in_phases]
        if not phases:
            return
        net = sum(a for by_opening in phases for a in by_opening.values())
        waste, gain = self.value(resource, "waste"), self.value(resource, "gain")
        factor = 1 + waste if waste is not None else 1 / gain if gain is not None else 1
        needed = net * factor
        packs = self.world.in_force(resource.packs)
        holds = packs[-1].formula if packs else (1 if resource.counted else None)
        bought = needed if holds is None else ceiling(needed / holds) * holds
        if holds is None:
            exact, cents = self.cost(phases, price * factor)
        else:
            exact = bought * price
            cents = self.to_cents(exact)
        self.bought.append((name, net, needed, bought))
        self.part(cents, in_phases, price * factor, rounds_each=holds is None)
        self.line(name, resource, None, bought, exact, cents)

    def part(self, cents, in_phases, price, rounds_each):
        """Cuts the cents of a line up by phase, and those of each phase by wing and what stands under none, which comes last."""
        wings = []
        for opening in self.world.rows("opening"):
            if opening.cells["wing"] not in wings:
                wings.append(opening.cells["wing"])
        each = self.terms.each_opening and rounds_each
        totals = [sum(amounts.values()) for _, amounts in in_phases]
        parts = shares(cents, totals)
        for (phase, amounts), part in zip(in_phases, parts):
            if each:
                rounded_parts = {o: self.to_cents(a * price) for o, a in amounts.items()}
                part = sum(rounded_parts.values())
                of = lambda wing: sum(c for o, c in rounded_parts.items() if (o and o.cells["wing"]) == wing)
                by_wing = [of(wing) for wing in wings + [None]]
            else:
                of = lambda wing: sum(a for o, a in amounts.items() if (o and o.cells["wing"]) == wing)
                by_wing = shares(part, [of(wing) for wing in wings + [None]])
            self.by_phase[phase] = self.by_phase.get(phase, 0) + part
            for wing, cents_there in zip(wings + [None], by_wing):
                self.by_wing[wing] = self.by_wing.get(wing, 0) + cents_there

    def line(self, name, resource, phase, quantity, exact, cents):
        self.lines.append(
            {"resource": name, "class": resource.kind, "phase": phase, "quantity": quantity, "exact": exact, "cents": cents}
        )

    def charge(self, charge):
        name, kind, share, bases = charge
        if kind == "sum":
            self.charges.append({"name": name, "cents": self.to_cents(share)})
            return
        if bases == "all so far":
            lines, earlier = self.lines, self.charges
        else:
            lines = [
                l
                for l in self.lines
                if l["class"] in bases or l["resource"] in bases or ("materials" in bases and l["class"] in MATERIALS)
            ]
            earlier = [c for c in self.charges if c["name"] in bases]
        items = [l["cents"] for l in lines] + [c["cents"] for c in earlier]
        base = Fraction(sum(items), 100)
        up = lambda dollars: int(rounded(dollars, CENT, "half up") * 100)
        if kind == "by item":
            cents = sum(up(Fraction(i, 100) * share) for i in items)
        elif kind == "by invoice":
            cents = up(base * share)
        elif kind == "margin":
            cents = self.to_cents(base / (1 - share) - base)
        else:
            cents = self.to_cents(base * share)
        self.charges.append({"name": name, "cents": cents})
