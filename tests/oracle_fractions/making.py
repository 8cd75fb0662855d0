"""Makes sheets, surveys and expressions at random, with the values they must have.

Every text made here is read again by reading.py and worked by working.py; making knows only which kinds of things fit together.
"""

from fractions import Fraction as F

from reading import DEGREE, INCH, L1, L2, L3, LABOR, LITE, MASS, MONEY, NONE, OPENING, POINT, SASH, TIME, UNITS, WORKED, read, times
from working import BLANK, FAULT, NA, OPEN, TooLong, World, absent, within

# Levels of the grammar, loosest first.
EXPR, BRANCH, OR, AND, NOT, COMPARE, SUM, TERM, FACTOR, POWER, POSTFIX, ATOM = range(12)

KINDS = ("single", "pair", "hung")
ONE_UNIT = {}
for word, (factor, d) in UNITS.items():
    ONE_UNIT.setdefault(d, []).append(word)
RATES = [(LABOR, LITE), (L1, POINT), (MONEY, LABOR), (MONEY, L3), (MASS, L3), (LABOR, L2), (LITE, SASH), (POINT, LITE), (LABOR, L1)]
WANTED = [NONE, L1, L2, L3, LABOR, TIME, MASS, MONEY, LITE, SASH, POINT, WORKED, DEGREE] + [times(a, b, -1) for a, b in RATES]
# A unit for each kind of result, in which it is handed over.
HANDED = {NONE: "", L1: "in", L2: "sq in", L3: "cu in", LABOR: "min", TIME: "day", MASS: "lb", MONEY: "USD", LITE: "lite", SASH: "sash", POINT: "point",
          OPENING: "opening", WORKED: "work day", DEGREE: "F step", "day": "", "moment": "", "temperature": "", "text": ""}
SCALES = ("day", "moment", "temperature")
# What the distance of two points of a scale measures.
STEP = {"day": TIME, "moment": TIME, "temperature": DEGREE}
TEXTS = ("Hall", "soft at the sill", "north")
for top, bottom in RATES:
    HANDED[times(top, bottom, -1)] = f"{HANDED[top]} per {HANDED[bottom]}"

HELPERS = {
    "ring": (["w", "h"], "2 * (w + h)"), "more": (["x", "p"], "x * (1 + p)"), "field": (["w", "h"], "w * h"),
    "apart": (["x", "y"], "abs(x - y) / larger(abs(x), abs(y))"), "bound": (["x", "low", "high"], "smaller(larger(x, low), high)"),
}


def handed(value, d):
    """A value as the engine's side reads it: a ratio in the unit of HANDED, or a word."""
    if value is True or value is False:
        return "yes" if value else "no"
    if absent(value):
        return "absent"
    if value is FAULT:
        return "fault"
    if value is OPEN:
        return "open"
    if isinstance(value, str):
        return "=" + value
    unit = HANDED[d].split(" per ")
    factor = F(1)
    for i, u in enumerate(x for x in unit if x):
        factor = factor * UNITS[u][0] if i == 0 else factor / UNITS[u][0]
    v = value / factor
    return f"{v.numerator}/{v.denominator}"


class Maker:
    def __init__(self, chance):
        self.r = chance
        self.named = []  # names that may be read now: name, dimension
        self.truths = []
        self.on_rows = False

    def one(self, *list_):
        return list_[self.r.randrange(len(list_))]

    def odds(self, n):
        return self.r.randrange(n) == 0

    def wrap(self, made, need):
        text, level = made
        return text if level >= need and not self.odds(12) else f"({text})"

    # numbers

    def plain(self):
        r = self.r
        k = r.randrange(12)
        if k < 4:
            return str(r.randrange(1, 40))
        if k < 6:
            return f"{r.randrange(100)}.{r.randrange(1000)}"
        if k < 7:
            return f"{r.randrange(1, 16)}/{self.one(2, 3, 4, 7, 8, 16, 32)}"
        if k < 9:
            return f"{r.randrange(1, 60)} {r.randrange(1, 16)}/{self.one(2, 4, 8, 16)}"
        if k < 10:
            return f"{r.randrange(1, 60)}{self.one('', ' ')}{self.one(*'½¼¾⅛⅜⅝⅞⅓⅔')}"
        if k < 11:
            return self.one("0", "1", "0.5", "1000000", "0.000001", "3/7")
        return str(r.getrandbits(self.one(31, 62, 63, 64, 90)))

    def above_zero(self):
        return self.one("1", "2", "1/16", "1/8", "0.01", "0.25", "1/3", "5", "10", "0.5", "3/7", "1 1/2")

    def unit_of(self, d):
        """A unit of this dimension; none for dimensions no short unit has."""
        if d == NONE:
            return None
        top = tuple(max(x, 0) for x in d)
        below = [(i, -x) for i, x in enumerate(d) if x < 0]
        if top not in ONE_UNIT:
            return None
        text = self.one(*ONE_UNIT[top])
        for i, n in below:
            base = tuple(n if j == i else 0 for j in range(len(d)))
            if base not in ONE_UNIT:
                return None
            text += " per " + self.one(*ONE_UNIT[base])
        return text

    def literal(self, d, number=None):
        number = number or self.plain
        if d == NONE:
            return number(), ATOM
        if d == L1 and number == self.plain and self.odds(5):
            return self.one(f"{self.r.randrange(1, 9)} ft {self.r.randrange(12)} in", f"{self.r.randrange(1, 9)}'-{self.r.randrange(12)} {self.one('1/2', '3/8')}\"",
                            f"{self.r.randrange(1, 9)}'", f"{self.r.randrange(1, 60)} 1/4\"", f"{self.r.randrange(1, 9)}'{self.r.randrange(12)}\""), ATOM
        unit = self.unit_of(d)
        if unit:
            return f"{number()} {unit}", ATOM
        text, first = "1", True
        for i, x in enumerate(d):
            if x:
                base = tuple(1 if j == i else 0 for j in range(len(d)))
                size = self.literal(base, self.above_zero)[0]
                text += (" * " if x > 0 else " / ") + (f"({size})" if abs(x) == 1 else f"({size}) ^ {abs(x)}")
                first = False
        return text, TERM

    def percent(self):
        pool = [n for n, d in self.named if d == "percent"]
        return self.one(*pool) if pool and self.odds(2) else f"{self.one('35', '7.65', '12 1/2', '0.5', '100', '140')} %"

    # expressions of a dimension

    def number(self, d, depth):
        """Text and level."""
        pool = [n for n, x in self.named if x == d]
        if self.on_rows and d in (L1, LABOR) and self.odds(6):
            return self.absent(d, depth)
        if depth > 0 and d in (TIME, DEGREE) and self.odds(3):
            scale = self.one("day", "moment") if d == TIME else "temperature"
            return f"{self.wrap(self.point(scale, depth - 1), SUM)} - {self.wrap(self.point(scale, depth - 1), TERM)}", SUM
        if depth <= 0 or max(map(abs, d)) > 4:
            return (self.one(*pool), ATOM) if pool and not self.odds(4) else self.literal(d)
        return self.one(*self.WAYS)(self, d, depth - 1)

    def argument(self, d, depth):
        """An argument of a call; a look-up stands in brackets, since the next argument would be taken for one more key."""
        text, _ = self.number(d, depth)
        return f"({text})" if " from " in text else text

    def name_or_literal(self, d, depth):
        return self.number(d, 0)

    def added(self, d, depth):
        a, b = self.number(d, depth), self.number(d, depth)
        return f"{self.wrap(a, SUM)} {self.one('+', '-')} {self.wrap(b, TERM)}", SUM

    def product(self, d, depth):
        if self.odds(4):
            p = self.one(self.percent(), f"(1 {self.one('+', '-')} {self.percent()})")
            return f"{self.wrap(self.number(d, depth), TERM)} * {p}", TERM
        x = self.one(NONE, NONE, L1, LITE, d, *WANTED)
        a, b = self.number(x, depth), self.number(times(d, x, -1), depth)
        return f"{self.wrap(a, TERM)} * {self.wrap(b, FACTOR)}", TERM

    def quotient(self, d, depth):
        x = self.one(NONE, NONE, L1, LITE, *WANTED)
        a, b = self.number(times(d, x), depth), self.number(x, depth)
        return f"{self.wrap(a, TERM)} / {self.wrap(b, FACTOR)}", TERM

    def negative(self, d, depth):
        return f"-{self.wrap(self.number(d, depth), FACTOR)}", FACTOR

    def raised(self, d, depth):
        n = self.one(2, 3, -1, 0)
        if n == 0 and d == NONE:
            return f"{self.base(self.one(*WANTED), depth)} ^ 0", POWER
        if n == 0 or any(x % n for x in d):
            return self.product(d, depth)
        return f"{self.base(tuple(x // n for x in d), depth)} ^ {n}", POWER

    def base(self, d, depth):
        """The base of a power: a written measure stands in brackets."""
        text, level = self.number(d, depth)
        return self.wrap((text, 0 if level > POSTFIX and text[0] in "0123456789½¼¾⅛⅜⅝⅞⅓⅔⅕⅖⅗⅘⅙⅚" else level), POSTFIX)

    def branch(self, d, depth):
        c, a, b = self.truth(depth), self.number(d, depth), self.number(d, depth)
        return f"if {self.wrap(c, BRANCH)} then {self.wrap(a, BRANCH)} else {self.wrap(b, BRANCH)}", BRANCH

    def pick(self, d, depth):
        if self.odds(4):
            return f"abs({self.argument(d, depth)})", ATOM
        return f"{self.one('smaller', 'larger')}({', '.join(self.argument(d, depth) for _ in range(self.one(2, 2, 3)))})", ATOM

    def rate(self, d, depth):
        x = self.one(L1, LITE, LABOR, SASH, POINT)
        unit = self.unit_of(x)
        inner = self.number(times(d, x), depth)
        text = f"({inner[0]})" if not inner[0].isidentifier() else inner[0]
        return f"{text} per {unit}", POSTFIX

    def round(self, d, depth):
        mode = self.one("to", "up to", "down to", "toward zero to", "away from zero to", "half up to", "half down to", "half even to")
        step = self.literal(d, self.above_zero)
        text = f"{self.wrap(self.number(d, depth), BRANCH)} rounded {mode} {self.wrap(step, POSTFIX)}"
        return text, EXPR

    def irrational(self, d, depth):
        mode = self.one("to", "up to", "down to", "toward zero to", "away from zero to", "half down to", "half even to")
        inner, step = self.unrounded(d, depth)
        for _ in range(self.one(0, 0, 1, 2)):
            way = self.r.randrange(5)
            if way == 0:
                inner = f"{self.one('2', '1/3', '0.7')} * {inner} {self.one('+', '-')} {self.wrap(self.number(d, 0), TERM)}"
            elif way == 1:
                inner = f"-{inner} - {self.wrap(self.number(d, 0), TERM)}"
            elif way == 2 and d == NONE:
                inner = f"({inner}) ^ {self.one('2', '3', '-1')}"
            elif way == 3:
                inner = f"{self.one('smaller', 'larger')}({inner}, {self.argument(d, 0)})"
                break
            elif way == 4:
                inner = f"(if {self.wrap(self.truth(0), BRANCH)} then {inner} else {self.wrap(self.number(d, 0), BRANCH)})"
                break
        return f"{inner} rounded {mode} {step}", EXPR

    def unrounded(self, d, depth):
        """A root, power or logarithm, and a step to round it to."""
        if d == NONE and self.odds(2):
            inner = self.one(f"ln({self.argument(NONE, depth)})", f"power({self.argument(NONE, depth)}, {self.one('0.5', '1.5', '2', '-1', '1/3', '0.321', '2/3')})")
            return inner, self.one("0.01", "1/16", "0.000001", "1/7")
        k = self.one(2, 2, 3)
        return f"root({self.argument(tuple(k * x for x in d), depth)}, {k})", self.wrap(self.literal(d, self.above_zero), POSTFIX)

    def called(self, d, depth):
        def n(x):
            return self.argument(x, depth)

        if d == NONE and self.odds(3):
            x = self.one(*WANTED)
            return f"apart({n(x)}, {n(x)})", ATOM
        which = self.r.randrange(4)
        if which == 0:
            return f"ring({n(d)}, {n(d)})", ATOM
        if which == 1:
            return f"more({n(d)}, {self.percent()})", ATOM
        if which == 2:
            x = self.one(NONE, L1, LITE)
            return f"field({n(x)}, {n(times(d, x, -1))})", ATOM
        return f"bound({n(d)}, {n(d)}, {n(d)})", ATOM

    def looked_up(self, d, depth):
        if d == times(LABOR, LITE, -1):
            return f"pace from glaze_step at ({self.number(L2, depth)[0]})", ATOM
        if d == times(MASS, L2, -1):
            return f"weight from panes at ({self.number(L1, depth)[0]}){self.one('', ' interpolated')}", ATOM
        if d == L1 and self.on_rows:
            return f"spring from springs at kind, ({self.number(MASS, depth)[0]})", ATOM
        return self.product(d, depth)

    def chosen(self, d, depth):
        if not self.on_rows:
            return self.branch(d, depth)
        order = list(KINDS)
        self.r.shuffle(order)

        def n():
            return self.number(d, depth)[0]

        arms = self.one(
            f"{order[0]}: {n()}   {order[1]}: {n()}   {order[2]}: {n()}", f"{order[0]}, {order[1]}: {n()}; {order[2]}: {n()}",
            f"{order[0]}: {n()}   otherwise: {n()}")
        return f"choose kind {{ {arms} }}", ATOM

    def absent(self, d, depth):
        if not self.on_rows:
            return self.added(d, depth)
        column, x = self.one(("thick", L1), ("sill", L1), ("hours", LABOR))
        if d != x:
            return self.product(d, depth)
        a = self.one("unknown", f"({self.number(d, depth)[0]})", self.literal(d)[0])
        text = f"{column} if blank {a}"
        if column == "sill":
            text += f" if n/a {self.one('unknown', self.literal(d)[0])}"
        return text, POSTFIX

    WAYS = (name_or_literal, added, added, added, product, product, product, quotient, quotient, negative, raised, branch, pick, rate, round, round,
            irrational, called, called, looked_up, chosen, absent, absent)

    # points on a scale, and texts

    def written(self, scale):
        r = self.r.randrange
        if scale == "temperature":
            degrees = f"{r(-20, 110)}{self.one('', '.5')} {self.one('°F', '°C', 'deg F')}"
            return f"({degrees})" if degrees[0] == "-" else degrees
        day = f"{r(1900, 2100)}-{r(1, 13):02}-{r(1, 29):02}"
        return day if scale == "day" else f"{day} {r(24):02}:{r(60):02}"

    def point(self, scale, depth):
        """Text and level."""
        pool = [n for n, x in self.named if x == scale]
        if self.on_rows and scale != "day" and self.odds(4):
            column = {"moment": "wetted", "temperature": "warm"}[scale]
            return f"{column} if blank {self.one('unknown', self.written(scale))}", POSTFIX
        if depth <= 0:
            return (self.one(*pool) if pool and not self.odds(3) else self.written(scale)), ATOM
        way = self.r.randrange(6)
        if way == 0:
            c, a, b = self.truth(depth - 1), self.point(scale, depth - 1), self.point(scale, depth - 1)
            return f"if {self.wrap(c, BRANCH)} then {self.wrap(a, BRANCH)} else {self.wrap(b, BRANCH)}", BRANCH
        if way == 1:
            return f"{self.one('smaller', 'larger')}({', '.join(self.point(scale, depth - 1)[0] for _ in range(self.one(2, 3)))})", ATOM
        if way == 2 and scale != "temperature":
            return (f"day_of({self.point('moment', depth - 1)[0]})" if scale == "day" else f"midnight({self.point('day', depth - 1)[0]})"), ATOM
        start, sign = self.wrap(self.point(scale, depth - 1), SUM), self.one("+", "-")
        if scale != "day":
            return f"{start} {sign} {self.wrap(self.number(STEP[scale], depth - 1), TERM)}", SUM
        days = self.one(f"{self.r.randrange(400)} day", f"{self.r.randrange(60)} week",
                        f"(bound({self.argument(TIME, depth - 1)}, -900 day, 5000 day) rounded {self.one('up', 'down', 'half even')} to 1 day)")
        return f"{start} {sign} {days}", SUM

    def words(self, depth):
        pool = [n for n, x in self.named if x == "text"]
        if depth <= 0 or self.odds(3):
            return (self.one(*pool) if pool and not self.odds(3) else f'"{self.one(*TEXTS)}"'), ATOM
        c, a, b = self.truth(depth - 1), self.words(depth - 1), self.words(depth - 1)
        return f"if {self.wrap(c, BRANCH)} then {self.wrap(a, BRANCH)} else {self.wrap(b, BRANCH)}", BRANCH

    # conditions

    def of_points(self, depth):
        """A condition on points or texts."""
        if self.odds(4):
            return f"{self.wrap(self.words(depth), SUM)} is {self.one('', 'not ')}{self.wrap(self.words(depth), SUM)}", COMPARE
        scale = self.one(*SCALES)
        a, b = self.wrap(self.point(scale, depth), SUM), self.wrap(self.point(scale, depth), SUM)
        if self.odds(4):
            step = self.one("4 F step", "3 C step") if scale == "temperature" else self.one("30 day", "8 week")
            return f"{a} is {self.one('', 'not ')}between {b} and {b} + {step}", COMPARE
        return f"{a} {self.one('<', '<=', '>', '>=', 'is', 'is not')} {b}", COMPARE

    def truth(self, depth):
        if self.odds(6):
            return self.of_points(max(depth - 1, 0))
        r = self.r.randrange(10)
        if depth <= 0 or r < 5:
            x = self.one(*WANTED)
            a, b = self.number(x, depth - 1), self.number(x, depth - 1)
            op = self.one("<", "<=", ">", ">=", "is", "is not", "between")
            if op == "between":
                # Ends the wrong way round are refused where both are known beforehand.
                low, c = self.wrap(b, SUM), self.number(x, depth - 1)
                return f"{self.wrap(a, SUM)} is {self.one('', 'not ')}between {low} and {low} + abs({c[0]})", COMPARE
            return f"{self.wrap(a, SUM)} {op} {self.wrap(b, SUM)}", COMPARE
        if r < 6:
            return f"{self.wrap(self.truth(depth - 1), AND)} and {self.wrap(self.truth(depth - 1), NOT)}", AND
        if r < 7:
            return f"{self.wrap(self.truth(depth - 1), OR)} or {self.wrap(self.truth(depth - 1), AND)}", OR
        if r < 8:
            return f"not {self.wrap(self.truth(depth - 1), NOT)}", NOT
        if not self.on_rows:
            return self.one("yes", "no"), ATOM
        k = self.one(*KINDS)
        return self.one(
            (f"kind is {k}", COMPARE), (f"kind is not {k}", COMPARE), (f"(kind is one of {k}, {self.one(*KINDS)})", ATOM), ("leaded", ATOM),
            ("leaded is no", COMPARE), (f"{self.one('thick', 'sill', 'hours')} is {self.one('', 'not ')}{self.one('blank', 'known')}", COMPARE),
            ("sill is n/a", COMPARE))


def cell(chance, d, unit):
    """Text of a cell and its value in the oracle's own units."""
    r = chance.randrange
    if d == "text":
        text = TEXTS[r(len(TEXTS))]
        return text, text
    if d == "temperature":
        text = f"{r(20, 100)}{['', '.5'][r(2)]} {['°F', '°C'][r(2)]}"
        return text, read(text)[1]
    if d in SCALES:
        month, day, year = r(1, 13), r(1, 29), r(1950, 2060)
        plain = f"{year}-{month:02}-{day:02}"
        if d == "moment":
            plain += f" {r(24):02}:{r(60):02}"
            return plain, read(plain)[1]
        return (f"{day} {MONTHS[month - 1]} {year}" if r(3) == 0 else plain), read(plain)[1]
    if d == L1:
        text = [f"{r(12, 90)}", f"{r(12, 90)} {r(1, 8)}/8", f"{r(1, 7)}'-{r(12)} 1/2\"", f"{r(1, 7)} ft {r(12)} in", f"{r(12, 90)}.{r(100)}", f"{r(300, 2000)} mm",
                f"{r(12, 90)}½", f"{r(12, 90)}-{r(1, 8)}/8", f"{r(12, 90)} in"][r(9)]
        if "-" in text and "'" not in text:
            return text, read(text.replace("-", " ") + " in")[1]
    elif d == "percent":
        text = f"{r(0, 150)}{['', '.5'][r(2)]} %"
    elif d == NONE:
        text = str(r(0, 6))
    else:
        text = f"{r(0, 300)}{['', '.25', ' 1/3'][r(3)]}" if unit not in ("lite", "sash") else str(r(0, 40))
    tree = read(text)
    if unit and tree[2] == NONE and not tree[3]:
        tree = read(f"{text} {unit}")
    return text, tree[1]


MONTHS = "January February March April May June July August September October November December".split()
COLUMNS = [
    ("wide", "length in in", L1, "in", None), ("high", "length in in", L1, "in", None), ("thick", "length in in optional", L1, "in", "blank"),
    ("sill", "length in in optional may be n/a", L1, "in", "both"), ("hours", "labor in h optional", LABOR, "h", "blank"),
    ("lites", "count of lite", LITE, "lite", None), ("cracked", "count of lite if blank 0 lite", LITE, "lite", "zero"),
    ("leaves", "count of sash", SASH, "sash", None), ("rot", "percent", "percent", "", None), ("across", "number whole", NONE, "", None),
    ("paid", "money in USD", MONEY, "USD", None), ("heft", "mass in lb", MASS, "lb", None),
    ("painted", "date", "day", "", None), ("wetted", "moment optional", "moment", "", "blank"), ("warm", "temperature optional", "temperature", "", "blank"),
    ("room", "text", "text", "", None),
]


def survey(chance, count):
    rows, lines = [], ["mark,kind,leaded," + ",".join(c[0] for c in COLUMNS)]
    for i in range(count):
        kind, leaded = KINDS[chance.randrange(3)], chance.randrange(3)
        row = {"kind": kind, "leaded": leaded > 0}
        texts = [f"M{i + 1}", kind, ["no", "yes", ""][leaded]]
        for name, _, d, unit, gap in COLUMNS:
            text, value = cell(chance, d, unit)
            if gap and chance.randrange(3) == 0:
                text = "n/a" if gap == "both" and chance.randrange(2) else ""
                value = F(0) if gap == "zero" else NA if text else BLANK
            row[name] = value
            texts.append('"' + text.replace('"', '""') + '"')
        rows.append(row)
        lines.append(",".join(texts))
    return rows, "\n".join(lines) + "\n"


def tables(chance):
    """Texts of three lookup tables and their rows: keys as bands or labels, values by name."""
    r = chance.randrange
    a, b = r(50, 200), r(201, 900)
    pace = [r(5, 20), r(20, 30), r(30, 60)]
    open_end = r(2) == 0
    last = f"{b} and over | {pace[2]}" if open_end else f"{b} to 4000 | {pace[2]}"
    sq, minute = INCH**2, F(1, 60)
    glaze = [([(F(0), a * sq)], {"pace": pace[0] * minute}), ([(a * sq, b * sq)], {"pace": pace[1] * minute}),
             ([(b * sq, None if open_end else 4000 * sq)], {"pace": pace[2] * minute})]
    points = sorted(r(1, 40) for _ in range(4))
    points = sorted(set(points))
    if len(points) < 2:
        points = [3, 8]
    heft = {p: r(1, 99) for p in points}
    per = UNITS["lb"][0] / UNITS["sq ft"][0]
    panes = [([(F(p, 16) * INCH, F(p, 16) * INCH)], {"weight": F(heft[p], 10) * per}) for p in points]
    springs, lines = [], []
    for k in KINDS:
        cut, x, y = r(3, 40), r(10, 90), r(10, 90)
        lines += [f"    {k} | under {cut} | {x}", f"    {k} | {cut} and over | {y}"]
        springs += [([k, (None, cut * UNITS["lb"][0])], {"spring": x * INCH}), ([k, (cut * UNITS["lb"][0], None)], {"spring": y * INCH})]
    text = (f"table glaze_step by pane {{\n    pane (sq in) | pace (min per lite)\n    0 to {a} | {pace[0]}\n    {a} to {b} | {pace[1]}\n    {last}\n}}\n"
            "table panes by thickness {\n    thickness (in) | weight (lb per sq ft)\n" + "".join(f"    {p}/16 | {F(heft[p], 10).numerator / F(heft[p], 10).denominator:g}\n" for p in points) +
            "}\ntable springs by leaf, load {\n    leaf | load (lb) | spring (in)\n" + "\n".join(lines) + "\n}\n")
    return text, {"glaze_step": glaze, "panes": panes, "springs": springs}


def refused_beforehand(world, tree):
    """Whether the checker may refuse this: something constant that fails on its own."""
    at_once = False

    def fails(t):
        return world.work(t, ("job",), {}) in (FAULT, OPEN)

    def constant(t):
        """Whether a tree is worked from written values alone; looks into it on the way."""
        nonlocal at_once
        kind = t[0]
        if kind == "call" and t[1] in world.helpers:
            names, body = world.helpers[t[1]]
            return constant(put_in(body, dict(zip(names, t[2]))))
        inner = [constant(p) for p in within(t)]
        if kind in ("up", "unknown", "shared") or (kind == "name" and (t[1] in world.columns or t[1] in world.rules)):
            return False
        if kind == "/" and inner[1] and world.work(t[2], ("job",), {}) == 0:
            at_once = True
        if all(inner) and kind in ("/", "^", "round", "call", "look up") and fails(t):
            at_once = True
        return all(inner)

    constant(tree)
    return at_once


def put_in(tree, bound):
    """A helper's body with its parameters replaced."""
    if isinstance(tree, tuple):
        if tree[0] == "name":
            return bound.get(tree[1], tree)
        return tuple(put_in(p, bound) if isinstance(p, (tuple, list)) else p for p in tree)
    return [put_in(p, bound) if isinstance(p, tuple) else p for p in tree]


class Batch:
    """One sheet with its survey and the values expected."""

    def __init__(self, chance, count, rows=8):
        self.r = chance
        self.maker = Maker(chance)
        self.rows, self.csv = survey(chance, rows)
        tables_text, table_rows = tables(chance)
        columns = {c[0] for c in COLUMNS} | {"kind", "leaded"}
        helpers = {n: (p, read(b)) for n, (p, b) in HELPERS.items()}
        self.world = World(self.rows, columns, helpers, table_rows, "kind")
        self.blocks = {"row": [], "group": [], "job": []}
        self.expect = []
        self.made = 0
        self.given_lines = []
        for i in range(12):
            d = self.maker.one(*WANTED)
            text = self.maker.literal(d)[0]
            while self.maker.unit_of(d) is None and d != NONE:
                d = self.maker.one(*WANTED)
                text = self.maker.literal(d)[0]
            self.given_lines.append(f"given k{i} {text}")
            self.world.rules[f"k{i}"] = ("job", read(text))
            self.maker.named.append((f"k{i}", d))
        self.givens = list(self.maker.named)
        while self.made < count:
            self.rule()
        columns_text = "\n".join(f"  {n} {kind}" for n, kind, *_ in COLUMNS)
        self.sheet = "\n".join([
            'sheet "Generated"', "counted sash (sashes), lite, point", "survey opening {", "  mark text key", f"  kind one of {', '.join(KINDS)}",
            "  leaded yes or no if blank yes", columns_text, "}", *self.given_lines,
            *(f"helper {n}({', '.join(p)}) = {b}" for n, (p, b) in HELPERS.items()), tables_text,
            "for each opening {", *self.blocks["row"], "}", "for each batch of opening by kind {", *self.blocks["group"], "}",
            "for the job {", *self.blocks["job"], "}", ""])

    ROW_COLUMNS = [(n, d) for n, _, d, _, gap in COLUMNS if gap in (None, "zero")]

    def seen(self, grain):
        """Names that may be read at a grain."""
        finer = {"row": ("row", "group", "job"), "group": ("group", "job"), "job": ("job",)}[grain]
        made = [(n, d) for n, d, g, _ in self.expect if g in finer and d != "truth"]
        return self.givens + (self.ROW_COLUMNS if grain == "row" else []) + made[-25:]

    def rule(self):
        r, m = self.r, self.maker
        kind = r.randrange(100)
        grain = "job" if kind < 55 else "row" if kind < 85 else "group" if kind < 92 else "job"
        m.on_rows = grain == "row"
        m.named = self.seen(grain)
        name = f"{grain[0]}{self.made}"
        d = m.one(*WANTED)
        tail = ""
        if kind >= 85:
            text, d = self.brought_up(grain)
        elif grain == "row" and r.randrange(12) == 0:
            text, d = self.shared_out()
        elif r.randrange(12) == 0:
            text, d = m.truth(3)[0], "truth"
        elif r.randrange(12) == 0:
            d = m.one(*SCALES)
            text = m.point(d, m.one(1, 2, 2, 3))[0]
        elif r.randrange(24) == 0:
            text, d = m.words(2)[0], "text"
        else:
            text = m.number(d, m.one(1, 1, 2, 2, 2, 3, 3, 4))[0]
        if text is None or len(text) > 1500:
            return
        if grain == "row" and isinstance(d, tuple) and d != NONE and r.randrange(3) == 0:
            tail = " adds up"
        tree = read(text)
        places = {"job": [("job",)], "group": self.world.below(("job",), "group"), "row": [("row", i) for i in range(len(self.rows))]}[grain]
        try:
            if refused_beforehand(self.world, tree):
                return
            self.world.rules[name] = (grain, tree)
            values = [self.world.named(name, p, {}) for p in places]
        except TooLong:
            self.world.rules.pop(name, None)
            return
        if grain == "job" and any(v is FAULT or v is OPEN for v in values):
            # A constant that fails is refused by the checker, and what fails for the job stops everything built on it.
            self.world.rules.pop(name, None)
            return
        if grain == "group":
            # Handed over row by row, so that the order of groups does not matter.
            values = [self.world.named(name, ("row", i), {}) for i in range(len(self.rows))]
            self.blocks["row"].append(f"  of_{name} = {name}")
        self.blocks[grain].append(f"  {name} = {text}{tail}")
        self.expect.append((name, d, grain, (values, text, tail)))
        self.made += 1

    def summable(self):
        return [(n, d) for n, d, g, (_, _, tail) in self.expect if g == "row" and tail] + [("lites", LITE), ("leaves", SASH), ("paid", MONEY), ("heft", MASS)]

    def brought_up(self, grain):
        m = self.maker
        rows = [(n, d) for n, d, g, (values, _, _) in self.expect
                if g == "row" and d not in ("truth", "text") and not any(v is FAULT or v is OPEN for v in values)]
        where = ""
        if m.odds(2):
            where = " where " + m.one("leaded", "lites > 10 lite", "kind is not pair", "wide > 3 ft and leaded", "rot < 50 %", "not leaded or across is 2")
        which = m.one("sum", "sum", "least", "most", "mean", "any", "all", "count")
        if which == "count":
            return f"(count of opening{where}) * {m.literal(NONE)[0]}", OPENING
        if which in ("any", "all"):
            return f"{which} of {m.one('leaded', '(lites > 20 lite)', '(rot > 50 %)', '(across is 0)')}{where}", "truth"
        known = rows + [("wide", L1), ("high", L1), ("painted", "day")]
        name, d = m.one(*(self.summable() if which == "sum" else [(n, d) for n, d in known if which != "mean" or isinstance(d, tuple)]))
        if which == "sum" and any(v is FAULT or v is OPEN for n, _, g, (vs, _, _) in self.expect if n == name for v in vs):
            return None, d
        weight = f" weighted by {m.one('lites', 'leaves', 'heft')}" if which == "mean" else ""
        return f"{which} of {name}{weight}{where}", d

    def shared_out(self):
        m = self.maker
        above = [(n, d) for n, d, g, (values, text, _) in self.expect if g in ("job", "group") and isinstance(d, tuple)
                 and all(isinstance(v, F) and v >= 0 for v in values) and (" of " in text)]
        if not above:
            return None, NONE
        name, d = m.one(*above)
        step = m.unit_of(d)
        steps = f" in steps of {m.one('1', '1/4', '0.01', '1/3')} {step}" if step and m.odds(2) else ""
        return f"{name} shared by {m.one('lites', 'leaves', 'heft', 'wide')}{steps}", d

    def handed_over(self):
        """What the other side compares: name, unit, values in order of rows."""
        out = []
        for name, d, grain, (values, _, _) in self.expect:
            shown = f"of_{name}" if grain == "group" else name
            out.append([shown, "" if d == "truth" else HANDED[d], [handed(v, d) for v in values]])
        return out
