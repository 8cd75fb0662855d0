"""Works a made job: rows, values through their layers, amounts of resources. Every number is a fraction in inches, square or cubic inches,
minutes, pieces or dollars. `None` is a value that nobody knows."""

from fractions import Fraction


class Row:
    """A row of a table, a group, or the job."""

    def __init__(self, grain, mark, above=None, cells=None):
        self.grain, self.mark, self.above, self.cells = grain, mark, above, cells or {}
        self.group = None


class Stage:
    """A definition, or a change of it: a formula for all rows, or values for rows by their mark."""

    def __init__(self, layer, formula=None, marks=None, reason=None):
        self.layer, self.formula, self.marks, self.reason = layer, formula, marks or {}, reason


class Definition:
    def __init__(self, grain, name, unit):
        self.grain, self.name, self.unit = grain, name, unit
        self.stages = []
        # Whether it may be unknown on some row.
        self.is_unsure = False


class Take:
    def __init__(self, grain, resource, phase, amount, when=None, shared=None):
        self.grain, self.resource, self.phase = grain, resource, phase
        self.amount, self.when, self.shared = amount, when, shared


class Send:
    """From a layer on, takes of a resource go to another resource or phase."""

    def __init__(self, layer, resource, phase, where, to_resource=None, to_phase=None):
        self.layer, self.resource, self.phase, self.where = layer, resource, phase, where
        self.to_resource, self.to_phase = to_resource, to_phase


# The last is an alternate's.
LAYERS = ["base", "shop", "job", "alternate"]


class Undecided(Exception):
    """A change reads what no line and no change before it has decided: it decides nothing either."""


class World:
    """One version of a job."""

    def __init__(self, job, alternate, picks=None):
        self.job, self.alternate = job, alternate
        # In a mixed plan, the plan that each opening takes.
        self.picks = picks
        self.memo = {}

    def plan_of(self, row):
        """The alternate that counts at a row; where plans are mixed, nothing above the openings is changed."""
        if self.picks is None:
            return self.alternate
        if row is None or row.grain not in ("opening", "sash", "defect"):
            return None
        return self.picks[self.coarser(row, "opening").mark]

    def in_force(self, things, row=None):
        """What counts in this version, in the order of layers; of one layer what is said of single rows comes last."""
        plan = self.plan_of(row)
        kept = [t for t in things if t.layer in LAYERS or t.layer == plan]
        rank = lambda t: (LAYERS.index(t.layer) if t.layer in LAYERS else 3, bool(getattr(t, "marks", None)))
        return sorted(kept, key=rank)

    def stages(self, definition, row):
        return self.in_force(definition.stages, row)

    def value(self, definition, row, upto=None):
        stages = self.stages(definition, row)
        last = len(stages) if upto is None else upto
        key = (id(definition), id(row), last)
        if key not in self.memo:
            stage = stages[last - 1]
            if stage.marks:
                value = stage.marks[row.mark] if row.mark in stage.marks else self.value(definition, row, last - 1)
            else:
                try:
                    value = stage.formula(self, row, (definition, last - 1))
                except Undecided:
                    value = GAP
            self.memo[key] = value
        return self.memo[key]

    def read(self, definition, row, own):
        """A name in a formula: in its own change it means what it was before."""
        target = self.coarser(row, definition.grain)
        if own and own[0] is definition:
            before = self.value(definition, target, own[1])
            if before is GAP:
                raise Undecided
            return before
        return self.value(definition, target)

    def reason(self, definition, row):
        """The reason of a decision at a row: of the last change that gave another answer, else of its line."""
        stages = self.stages(definition, row)
        plan = ""
        if self.picks and any(self.job.is_mixed(s.layer) for s in definition.stages):
            plan = f"{self.plan_of(row) or 'as decided'}: "
        for at in range(len(stages) - 1, 0, -1):
            stage = stages[at]
            if stage.marks:
                if row.mark in stage.marks:
                    return plan + stage.reason[row.mark]
            else:
                before = self.value(definition, row, at)
                if before is GAP or self.value(definition, row, at + 1) != before:
                    return plan + stage.reason
        return plan + stages[0].reason(self, row, (definition, 0))

    # ---- grain ----

    def rows(self, grain):
        return self.job.rows[grain]

    def coarser(self, row, grain):
        if grain in ("const", "job"):
            return row if row.grain == grain else self.job.rows["job"][0]
        while row.grain != grain:
            row = row.group if row.grain == "opening" else row.above
        return row

    def finer(self, row, grain):
        """Rows of a finer grain that belong to a row."""
        return [r for r in self.rows(grain) if self.coarser(r, row.grain) is row]

    # ---- amounts ----

    def amount(self, take, row):
        if take.when is not None:
            holds = take.when(self, row, None)
            if holds is None:
                return None
            if not holds:
                return Fraction(0)
        return take.amount(self, row, None)

    def sent(self, take, row):
        """Where a take ends at a row: each layer sends on what the layers before it left where it is."""
        resource, phase = take.resource, take.phase
        for layer in LAYERS[:3] + [self.alternate]:
            here = [s for s in self.job.sends if s.layer == layer]
            for kind in ("to_resource", "to_phase"):
                for send in here:
                    to = getattr(send, kind)
                    if to is None or send.resource != resource or send.phase not in (None, phase):
                        continue
                    if send.where is not None and not (self.job.can_read_wing(row.grain) and send.where(self, row, None)):
                        continue
                    if kind == "to_resource":
                        resource = to
                    else:
                        phase = to
                    break
        return resource, phase

    def amounts(self):
        """By resource and phase: the amount of each opening, and what belongs to none."""
        out = {}
        for take in self.job.takes:
            for row in self.rows(take.grain):
                amount = self.amount(take, row)
                if not amount:
                    continue
                by_opening = out.setdefault(self.sent(take, row), {})
                for opening, part in self.parted(take, row, amount):
                    by_opening[opening] = by_opening.get(opening, Fraction(0)) + part
        return out

    def parted(self, take, row, amount):
        if row.grain in ("opening", "sash", "defect"):
            return [(self.coarser(row, "opening"), amount)]
        if take.shared is None:
            return [(None, amount)]
        openings = self.finer(row, "opening")
        weights = [take.shared(self, o, None) for o in openings]
        whole = sum(weights)
        return [(o, amount * w / whole) for o, w in zip(openings, weights)]

    def taken(self, resource, row):
        """How much of a resource is taken at a row, wherever it was sent from."""
        total = Fraction(0)
        for take in self.job.takes:
            if take.resource in self.job.feeds(resource):
                rows = [row] if take.grain == row.grain else self.finer(row, take.grain)
                total += sum(self.amount(take, r) or 0 for r in rows if self.sent(take, r)[0] == resource)
        return total


class Gap:
    """What a decision gives where none of its lines holds."""


GAP = Gap()


def rounded(value, step, mode):
    if value is None:
        return None
    times = value / step
    low = times.numerator // times.denominator
    rest = times - low
    if rest == 0:
        return value
    toward_zero = low if value > 0 else low + 1
    away = low + 1 if value > 0 else low
    tie = {"half up": away, "half down": toward_zero, "half even": low + low % 2}
    if mode == "up":
        n = low + 1
    elif mode == "down":
        n = low
    elif mode == "toward zero":
        n = toward_zero
    elif mode == "away from zero":
        n = away
    elif rest != Fraction(1, 2):
        n = low + (rest > Fraction(1, 2))
    else:
        n = tie[mode]
    return n * step


def both(a, b):
    if a is False or b is False:
        return False
    return None if a is None or b is None else True


def either(a, b):
    if a is True or b is True:
        return True
    return None if a is None or b is None else False
