"""Works trees out with Python's fractions, one value at a time, as grammar/language.md says.

A value is a Fraction (days since 1970-01-01 for a day or moment, degrees Fahrenheit for a temperature), a Decimal (irrational, only below a rounding), True or False, a label (text), ABSENT, FAULT, or OPEN: what the
language does not say, such as a row that both fails and is unknown. OPEN is compared with nothing.
"""

from decimal import Decimal, getcontext
from fractions import Fraction as F
from math import isqrt

getcontext().prec = 100
getcontext().Emax, getcontext().Emin = 10**9, -10**9

BLANK, NA, FAULT, OPEN = (object() for _ in range(4))
# The engine stops at 4096 bits; what comes near is not compared.
MOST_BITS = 3500
# Irrational values this close to a multiple or a tie cannot be told from it with 100 digits.
CLOSE = Decimal(10) ** -60


class TooLong(Exception):
    """A number that comes near the engine's cap."""


def capped(x):
    if x.numerator.bit_length() > MOST_BITS or x.denominator.bit_length() > MOST_BITS:
        raise TooLong
    return x


def absent(v):
    return v is BLANK or v is NA


def strict(*values):
    """What stands in the way of an operation that needs all of its values; none when nothing does."""
    found = None
    for v in values:
        if v is BLANK or v is NA or v is FAULT or v is OPEN:
            if v is OPEN or (found is not None and (found is FAULT) != (v is FAULT)):
                return OPEN
            found = found or v
    return found


def decimal(x):
    return x if isinstance(x, Decimal) else Decimal(x.numerator) / Decimal(x.denominator)


def rounded(value, mode, step):
    """To a multiple of the step: floor, then decide by the part that is left, for each direction from its own definition."""
    if isinstance(value, Decimal):
        q = value / decimal(step)
        twice = q * 2
        if abs(twice - twice.to_integral_value()) < CLOSE or abs(q) > 10**30:
            return OPEN
        floor = int(q.to_integral_value(rounding="ROUND_FLOOR"))
        part = 1 if q - floor > Decimal("0.5") else -1
        exact = False
    else:
        q = value / step
        floor = q.numerator // q.denominator
        rest = q - floor
        exact = rest == 0
        part = (rest > F(1, 2)) - (rest < F(1, 2))
    if exact:
        return floor * step
    below = q < 0
    up = {
        "up": True, "down": False, "toward zero": below, "away from zero": not below,
        "half up": part > 0 or (part == 0 and not below),
        "half down": part > 0 or (part == 0 and below),
        "half even": part > 0 or (part == 0 and floor % 2 == 1),
    }["half up" if mode == "nearest" else mode]
    return (floor + 1 if up else floor) * step


def whole_root(n, k):
    """The k-th root of a whole number, if it is whole."""
    if k == 2:
        r = isqrt(n)
    else:
        r = 1 << (n.bit_length() // k + 1)
        while True:
            s = ((k - 1) * r + n // r ** (k - 1)) // k
            if s >= r:
                break
            r = s
    return r if r**k == n else None


def root(x, k):
    if isinstance(x, F):
        if x < 0 and k % 2 == 0:
            return FAULT
        size = abs(x)
        n, d = (0 if size == 0 else whole_root(size.numerator, k)), whole_root(size.denominator, k)
        if n is not None and d is not None:
            return F(n, d) if x >= 0 else -F(n, d)
    if abs(decimal(x)) < CLOSE:
        return OPEN
    if x < 0 and k % 2 == 0:
        return FAULT
    r = abs(decimal(x)) ** (Decimal(1) / k)
    return -r if x < 0 else r


def power(x, y):
    if isinstance(x, F) and isinstance(y, F):
        if y.denominator == 1:
            if x == 0 and y < 0:
                return FAULT
            if abs(y) > 64:
                raise TooLong
            return capped(x ** int(y))
        if x < 0:
            return FAULT
        if x == 0:
            return F(0) if y > 0 else FAULT
        if abs(y) > 64 or y.denominator > 64:
            return OPEN
        r = root(x, y.denominator)
        if isinstance(r, F):
            return capped(r**y.numerator)
    if decimal(x) < CLOSE:
        return OPEN
    return decimal(x) ** decimal(y)


def log(x):
    if isinstance(x, F):
        if x <= 0:
            return FAULT
        if x == 1:
            return F(0)
    elif x < CLOSE:
        return OPEN
    return decimal(x).ln()


def shares(whole, weights, step):
    """Parts of a whole in proportion to weights; in steps by largest remainder, ties to the first."""
    total = sum(weights)
    if whole == 0:
        return [F(0)] * len(weights)
    if total == 0 or any(w < 0 for w in weights):
        return None
    if step is None:
        return [whole * w / total for w in weights]
    if (whole / step).denominator != 1:
        return None
    steps = int(whole / step)
    exact = [steps * w / total for w in weights]
    parts = [x.numerator // x.denominator for x in exact]
    left = steps - sum(parts)
    order = sorted(range(len(parts)), key=lambda i: (-(exact[i] - parts[i]), i))
    for i in order[:left]:
        parts[i] += 1
    return [p * step for p in parts]


class World:
    """Rows, rules and tables of one sheet. A place is ("row", i), ("group", label) or ("job",)."""

    def __init__(self, rows, columns, helpers, tables, group_key):
        self.rows, self.columns, self.helpers, self.tables, self.key = rows, columns, helpers, tables, group_key
        self.rules = {}  # name: grain, tree
        self.memo = {}

    def grain_of(self, tree):
        """The finest grain of the names in a tree: row, group or job."""
        grains = {self.rules[n][0] if n in self.rules else "row" for n in names(tree) if n in self.rules or n in self.columns}
        return "row" if "row" in grains else "group" if "group" in grains else "job"

    def below(self, place, grain):
        if grain == "group":
            return [("group", k) for k in dict.fromkeys(r[self.key] for r in self.rows)]
        return [("row", i) for i, r in enumerate(self.rows) if place[0] == "job" or r[self.key] == place[1]]

    def named(self, name, place, bound):
        if name in bound:
            return bound[name]
        if name in self.rules:
            grain, tree = self.rules[name]
            if place[0] == "row" and grain == "group":
                place = ("group", self.rows[place[1]][self.key])
            elif grain == "job":
                place = ("job",)
            at = (name, place)
            if at not in self.memo:
                self.memo[at] = self.work(tree, place, {})
            return self.memo[at]
        if name in self.columns:
            return self.rows[place[1]][name]
        return name  # a label

    def work(self, t, place, bound):
        kind = t[0]
        if kind in ("number", "on a scale", "text"):
            return t[1]
        if kind == "name":
            return self.named(t[1], place, bound)
        if kind == "truth":
            return t[1]
        if kind == "unknown":
            return BLANK
        if kind in "+-*/":
            a, b = self.work(t[1], place, bound), self.work(t[2], place, bound)
            return self.arithmetic(kind, a, b)
        if kind == "negative":
            a = self.work(t[1], place, bound)
            return a if strict(a) is not None else -a
        if kind == "^":
            a = self.work(t[1], place, bound)
            if (bad := strict(a)) is not None:
                return bad
            if isinstance(a, Decimal):
                return OPEN if abs(a) < CLOSE else a ** t[2]
            if a == 0 and t[2] < 0:
                return FAULT
            return capped(a ** t[2])
        if kind == "round":
            a, s = self.work(t[1], place, bound), self.work(t[3], place, bound)
            if (bad := strict(a, s)) is not None:
                return bad
            return FAULT if s <= 0 else rounded(a, t[2], s)
        if kind == "if":
            c = self.work(t[1], place, bound)
            if (bad := strict(c)) is not None:
                return bad
            return self.work(t[2] if c else t[3], place, bound)
        if kind in ("and", "or"):
            a, b = self.work(t[1], place, bound), self.work(t[2], place, bound)
            settles = kind == "or"
            if a is settles or b is settles:
                return settles
            bad = strict(a, b)
            return (not settles) if bad is None else bad
        if kind == "not":
            a = self.work(t[1], place, bound)
            return a if strict(a) is not None else not a
        if kind in ("compare", "same"):
            a, b = self.work(t[-2], place, bound), self.work(t[-1], place, bound)
            if (bad := strict(a, b)) is not None:
                return bad
            return a == b if kind == "same" else {"<": a < b, "<=": a <= b, ">": a > b, ">=": a >= b}[t[1]]
        if kind == "one of":
            a = self.work(t[1], place, bound)
            return a if strict(a) is not None else a in t[2]
        if kind == "state":
            a = self.work(t[1], place, bound)
            if a is FAULT or a is OPEN:
                return a
            return {"blank": a is BLANK, "n/a": a is NA, "known": not absent(a)}[t[2]]
        if kind == "if absent":
            a = self.work(t[1], place, bound)
            return self.work(t[3], place, bound) if a is (BLANK if t[2] == "blank" else NA) else a
        if kind == "choose":
            a = self.work(t[1], place, bound)
            if (bad := strict(a)) is not None:
                return bad
            return self.work(next(e for labels, e in t[2] if labels is None or a in labels), place, bound)
        if kind == "call":
            return self.call(t[1], t[2], place, bound)
        if kind == "look up":
            return self.look_up(t, place, bound)
        if kind == "up":
            return self.up(t, place, bound)
        if kind == "shared":
            return self.shared(t, place)
        raise KeyError(kind)

    def arithmetic(self, op, a, b):
        if (bad := strict(a, b)) is not None:
            return bad
        if isinstance(a, Decimal) or isinstance(b, Decimal):
            a, b = decimal(a), decimal(b)
            if op == "/" and abs(b) < CLOSE:
                return OPEN
            return {"+": a.__add__, "-": a.__sub__, "*": a.__mul__, "/": a.__truediv__}[op](b)
        if op == "/":
            return FAULT if b == 0 else capped(a / b)
        return capped(a + b if op == "+" else a - b if op == "-" else a * b)

    def call(self, name, args, place, bound):
        values = [self.work(a, place, bound) for a in args]
        if name in self.helpers:
            params, body = self.helpers[name]
            return self.work(body, place, dict(zip(params, values)))
        if (bad := strict(*values)) is not None:
            return bad
        if name in ("smaller", "larger") and any(isinstance(v, Decimal) for v in values):
            near = sorted(map(decimal, values))
            if any(abs(a - b) < CLOSE for a, b in zip(near, near[1:])):
                return OPEN
            return (min if name == "smaller" else max)(values, key=decimal)
        return {"smaller": min, "larger": max, "abs": abs, "ln": log, "power": power, "midnight": lambda day: day,
                "day_of": lambda moment: F(moment.numerator // moment.denominator),
                "root": lambda x, k: root(x, int(k))}[name](*values)

    def look_up(self, t, place, bound):
        _, column, table, keys, between = t
        values = [self.work(k, place, bound) for k in keys]
        if (bad := strict(*values)) is not None:
            return bad
        rows = self.tables[table]
        if between:
            points = sorted((k[0][0], v[column]) for k, v in rows)
            x = values[0]
            for (x0, y0), (x1, y1) in zip(points, points[1:]):
                if x0 <= x <= x1:
                    return y0 + (y1 - y0) * (x - x0) / (x1 - x0)
            return FAULT

        def fits(cell, value):
            if isinstance(cell, str):
                return cell == value
            low, high = cell
            return low == value if low == high else (low is None or low <= value) and (high is None or value < high)

        found = [v[column] for k, v in rows if all(fits(c, x) for c, x in zip(k, values))]
        return found[0] if found else FAULT

    def up(self, t, place, bound):
        _, kind, of, weight, where = t
        if kind == "count":
            places = self.below(place, "row")
        else:
            grain = "row" if place[0] == "group" else self.grain_of(("pair", of, weight, where))
            places = self.below(place, grain)
        kept = []
        for p in places:
            if where is not None:
                c = self.work(where, p, bound)
                if c is False:
                    continue
                if c is not True:
                    return OPEN
            v = True if kind == "count" else self.work(of, p, bound)
            w = F(1) if weight is None else self.work(weight, p, bound)
            kept.append((v, w))
        if any(v is OPEN or w is OPEN for v, w in kept):
            return OPEN
        known = [(v, w) for v, w in kept if not absent(v) and not absent(w)]
        if any(v is FAULT or w is FAULT for v, w in known):
            return FAULT
        if len(known) < len(kept) and any(v is FAULT or w is FAULT for v, w in kept):
            return OPEN
        values = [v for v, _ in known]
        if kind == "count":
            return F(len(values))
        if kind == "sum":
            return capped(sum(values, F(0)))
        if kind == "any":
            return any(values)
        if kind == "all":
            return all(values)
        if not values:
            return FAULT
        if kind in ("least", "most"):
            return min(values) if kind == "least" else max(values)
        total = sum(w for _, w in known)
        return FAULT if total == 0 else capped(sum(v * w for v, w in known) / total)

    def shared(self, t, place):
        _, value, weight, step = t
        grain = self.rules[value[1]][0]
        above = ("job",) if grain == "job" else ("group", self.rows[place[1]][self.key])
        whole = self.named(value[1], above, {})
        if strict(whole) is not None:
            return whole
        places = self.below(above, "row")
        weights = [self.work(weight, p, {}) for p in places]
        if strict(*weights) is not None:
            return OPEN
        parts = shares(whole, weights, step[1] if step else None)
        return FAULT if parts is None else parts[places.index(place)]


def within(tree):
    """The trees a tree is made of."""
    for p in tree[1:]:
        if isinstance(p, tuple) and p and isinstance(p[0], str):
            yield p
        elif isinstance(p, list):
            for q in p:
                if isinstance(q, tuple):
                    yield q if isinstance(q[0], str) else q[1]


def names(tree):
    if tree[0] == "name":
        yield tree[1]
    for p in within(tree):
        yield from names(p)
