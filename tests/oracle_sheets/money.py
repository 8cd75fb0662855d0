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
        # What each line costs in each phase, in each wing and for each opening; what belongs to none stands under no key.
        self.parts_of_line = []
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
        self.spread = {by: self.spread_over(by) for by in ("phase", "wing", "opening")}

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
        wings, openings = self.wings(), self.world.rows("opening")
        line = {"phase": {}, "wing": {}, "opening": {}}
        self.parts_of_line.append(line)
        each = self.terms.each_opening and rounds_each
        totals = [sum(amounts.values()) for _, amounts in in_phases]
        parts = shares(cents, totals)
        for (phase, amounts), part in zip(in_phases, parts):
            by_opening = {}
            if each:
                rounded_parts = {o: self.to_cents(a * price) for o, a in amounts.items()}
                part = sum(rounded_parts.values())
                of = lambda wing: sum(c for o, c in rounded_parts.items() if (o and o.cells["wing"]) == wing)
                by_wing = [of(wing) for wing in wings + [None]]
                by_opening = rounded_parts
            else:
                of = lambda wing: sum(a for o, a in amounts.items() if (o and o.cells["wing"]) == wing)
                by_wing = shares(part, [of(wing) for wing in wings + [None]])
                by_opening = self.within(dict(zip(wings + [None], by_wing)), amounts)
            self.by_phase[phase] = self.by_phase.get(phase, 0) + part
            line["phase"][phase] = part
            for wing, cents_there in zip(wings + [None], by_wing):
                self.by_wing[wing] = self.by_wing.get(wing, 0) + cents_there
                line["wing"][wing] = line["wing"].get(wing, 0) + cents_there
            for opening in openings + [None]:
                line["opening"][opening] = line["opening"].get(opening, 0) + by_opening.get(opening, 0)

    def wings(self):
        """In order of first appearance."""
        return list(dict.fromkeys(o.cells["wing"] for o in self.world.rows("opening")))

    def within(self, by_wing, weights):
        """The cents of each wing over its openings; what stands under no wing belongs to no opening."""
        out = {None: by_wing[None]}
        for wing in self.wings():
            there = [o for o in self.world.rows("opening") if o.cells["wing"] == wing]
            out.update(zip(there, shares(by_wing[wing], [weights.get(o, Fraction(0)) for o in there])))
        return out

    def spread_over(self, by):
        """Each charge over the keys of a cut, in proportion to its base there; a charge of no base belongs to the whole job."""
        keys = {"phase": self.terms.phases, "wing": self.wings(), "opening": self.world.rows("opening")}[by] + [None]
        parts = {}
        for (name, kind, _, bases), charge in zip(self.terms.charges, self.charges):
            counts, earlier = ([], []) if kind == "sum" else self.based_on(bases, list(parts))
            base = {k: Fraction(0) for k in keys}
            for at in counts:
                for key, cents in self.parts_of_line[at][by].items():
                    base[key] += cents
            for other in earlier:
                for key, cents in parts[other].items():
                    base[key] += cents
            if not sum(base.values()):
                parts[name] = {k: charge["cents"] if k is None else 0 for k in keys}
            elif by == "opening":
                wings = self.wings() + [None]
                of_wing = [sum(c for o, c in base.items() if (o and o.cells["wing"]) == wing) for wing in wings]
                parts[name] = self.within(dict(zip(wings, shares(charge["cents"], of_wing))), base)
            else:
                parts[name] = dict(zip(keys, shares(charge["cents"], list(base.values()))))
        sums = {k: sum(part[k] for part in parts.values()) for k in keys}
        sums[None] += int(self.final)
        return sums

    def based_on(self, bases, earlier):
        """The lines, by place, and the earlier charges that a charge is worked on."""
        if bases == "all so far":
            return range(len(self.lines)), earlier
        lines = [at for at, l in enumerate(self.lines) if self.is_in(l, bases)]
        return lines, [name for name in earlier if name in bases]

    @staticmethod
    def is_in(line, bases):
        materials = "materials" in bases and line["class"] in MATERIALS
        return line["class"] in bases or line["resource"] in bases or materials

    def line(self, name, resource, phase, quantity, exact, cents):
        self.lines.append(
            {"resource": name, "class": resource.kind, "phase": phase, "quantity": quantity, "exact": exact, "cents": cents}
        )

    def charge(self, charge):
        name, kind, share, bases = charge
        if kind == "sum":
            self.charges.append({"name": name, "cents": self.to_cents(share)})
            return
        lines, earlier = self.based_on(bases, [c["name"] for c in self.charges])
        items = [self.lines[at]["cents"] for at in lines]
        items += [c["cents"] for c in self.charges if c["name"] in earlier]
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
