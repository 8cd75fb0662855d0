"""Formulas made at random: each is a text in the language and a function that works it."""

from fractions import Fraction

from working import both, either, rounded

IN_UNIT = {"in": Fraction(1), "ft": Fraction(12), "cm": Fraction(50, 127), "mm": Fraction(5, 127)}
ROUNDINGS = ["up", "down", "toward zero", "away from zero", "half up", "half down", "half even"]


def constant(value):
    return lambda w, row, own: value


class F:
    """A formula. Its kind is a word: length, number, minutes, truth, text, or `label of CHOICE`."""

    def __init__(self, text, kind, work):
        self.text, self.kind, self.work = text, kind, work

    def __call__(self, world, row, own):
        return self.work(world, row, own)


def strict(work):
    return lambda *values: None if any(v is None for v in values) else work(*values)


def apply(text, kind, parts, work):
    """A formula over parts; unknown as soon as one of them is."""
    work = strict(work)
    return F(text, kind, lambda w, row, own: work(*(p(w, row, own) for p in parts)))


def fraction_text(value):
    whole, rest = divmod(value, 1)
    if not rest:
        return str(whole)
    part = f"{rest.numerator}/{rest.denominator}"
    return f"{whole} {part}" if whole else part


def length(value, dice):
    """An amount of inches as a sheet may write it."""
    ways = ["in"]
    if value % 1 == 0 and value >= 12:
        ways.append("ft")
    if (value * 254) % 10 == 0:
        ways.append("mm")
    way = dice.choice(ways)
    if way == "ft":
        feet, inches = divmod(value, 12)
        return f"{feet} ft {inches} in" if inches else f"{feet} ft"
    if way == "mm":
        return f"{fraction_text(value * Fraction(254, 10))} mm"
    return f"{fraction_text(value)} in"


def length_literal(value, dice):
    return F(length(value, dice), "length", lambda w, row, own: value)


class Maker:
    """Formulas over names that may be read at a grain."""

    def __init__(self, dice, names, choices, ties):
        # `names` gives, for a grain, the names to read there: (name, kind, definition, whether it may be unknown).
        self.dice, self.names, self.choices, self.ties = dice, names, choices, ties
        # Whether what was made since this was last set to no may be unknown on some row.
        self.is_unsure = False

    def sure(self, make):
        """What is made until it is known on every row."""
        while True:
            self.is_unsure = False
            made = make()
            if not self.is_unsure:
                return made

    def named(self, name, kind, definition, optional):
        if not optional:
            self.is_unsure |= definition.is_unsure
            return F(name, kind, lambda w, row, own: w.read(definition, row, own))
        dice = self.dice
        if dice.random() < 0.5:
            self.is_unsure = True
            return F(f"({name} if blank unknown)", kind, lambda w, row, own: w.read(definition, row, own))
        value = Fraction(dice.randint(8, 40), 8)

        def work(w, row, own):
            found = w.read(definition, row, own)
            return value if found is None else found

        return F(f"({name} if blank {length(value, dice)})", kind, work)

    def leaf(self, grain, kind):
        names = [n for n in self.names(grain) if n[1] == kind]
        if names and self.dice.random() < 0.75:
            return self.named(*self.dice.choice(names))
        return self.literal(kind)

    def literal(self, kind):
        dice = self.dice
        if kind == "length":
            return length_literal(Fraction(dice.randint(4, 400), 8), dice)
        if kind == "number":
            value = Fraction(dice.randint(1, 12), dice.choice([1, 1, 2, 3]))
            return F(fraction_text(value), "number", lambda w, row, own: value)
        if kind == "minutes":
            value = Fraction(dice.randint(1, 90))
            hours, minutes = divmod(value, 60)
            text = f"{hours} h {minutes} min" if hours and minutes else f"{value} min"
            return F(text, "minutes", lambda w, row, own: value)
        if kind == "truth":
            value = dice.random() < 0.5
            return F("yes" if value else "no", "truth", lambda w, row, own: value)
        choice = kind.removeprefix("label of ")
        label = dice.choice(self.choices[choice])
        return F(label, kind, lambda w, row, own: label)

    def make(self, grain, kind, depth):
        dice = self.dice
        if depth == 0 or dice.random() < 0.15:
            return self.leaf(grain, kind)
        sub = lambda k: self.make(grain, k, depth - 1)
        roll = dice.random()
        if roll < 0.2:
            a, c, b = sub(kind), self.test(grain, depth - 1), sub(kind)
            return F(f"(if {c.text} then {a.text} else {b.text})", kind, branch(c, a, b))
        if roll < 0.23 and kind in ("length", "number", "minutes"):
            a = sub(kind)
            return apply(f"third({a.text})", kind, [a], lambda x: x / 3)
        if roll < 0.35:
            return self.choose(grain, kind, depth)
        if kind == "truth":
            return self.test(grain, depth)
        if kind.startswith("label"):
            return self.leaf(grain, kind)
        if kind == "number" and roll < 0.5:
            a, b = sub("length"), self.literal("length")
            return apply(f"({a.text} / {b.text})", kind, [a, b], lambda x, y: x / y)
        if kind == "minutes" and roll < 0.6:
            a, b = sub("number"), sub("minutes")
            return apply(f"({a.text} * {b.text})", kind, [a, b], lambda x, y: x * y)
        if roll < 0.6 and kind == "length":
            a, b = sub("length"), sub("number")
            return apply(f"({a.text} * {b.text})", kind, [a, b], lambda x, y: x * y)
        if roll < 0.75:
            op, work = dice.choice([("+", lambda x, y: x + y), ("-", lambda x, y: x - y)])
            a, b = sub(kind), sub(kind)
            return apply(f"({a.text} {op} {b.text})", kind, [a, b], work)
        if roll < 0.85:
            word, work = dice.choice([("smaller", min), ("larger", max)])
            a, b = sub(kind), sub(kind)
            return apply(f"{word}({a.text}, {b.text})", kind, [a, b], work)
        if roll < 0.9:
            a = sub(kind)
            return apply(f"abs({a.text})", kind, [a], abs)
        a = sub(kind)
        step, text = {
            "length": (Fraction(1, 16), "1/16 in"),
            "number": (Fraction(1), "1"),
            "minutes": (Fraction(5), "5 min"),
        }[kind]
        mode = dice.choice(ROUNDINGS + ["", ""])
        how = mode or self.ties
        words = f"rounded {mode} to" if mode else "rounded to"
        return apply(f"({a.text} {words} {text})", kind, [a], lambda x: rounded(x, step, how))

    def choose(self, grain, kind, depth):
        choices = [n for n in self.names(grain) if n[1].startswith("label of") and not n[3]]
        if not choices:
            return self.leaf(grain, kind)
        name = self.dice.choice(choices)
        subject = self.named(*name)
        labels = list(self.choices[name[1].removeprefix("label of ")])
        self.dice.shuffle(labels)
        cut = self.dice.randint(1, len(labels))
        arms = {label: self.make(grain, kind, depth - 1) for label in labels[:cut]}
        rest = self.make(grain, kind, depth - 1)
        text = "   ".join(f"{label}: {arm.text}" for label, arm in arms.items())

        # Always with `otherwise`, which covers labels that a later layer adds.
        def work(w, row, own):
            label = subject(w, row, own)
            return None if label is None else arms.get(label, rest)(w, row, own)

        return F(f"(choose {subject.text} {{ {text}   otherwise: {rest.text} }})", kind, work)

    def test(self, grain, depth):
        dice = self.dice
        sub = lambda: self.test(grain, depth - 1)
        roll = dice.random()
        if depth > 0 and roll < 0.3:
            word, work = dice.choice([("and", both), ("or", either)])
            a, b = sub(), sub()
            return F(f"({a.text} {word} {b.text})", "truth", lambda w, row, own: work(a(w, row, own), b(w, row, own)))
        if depth > 0 and roll < 0.4:
            a = sub()
            return apply(f"(not {a.text})", "truth", [a], lambda x: not x)
        labels = [n for n in self.names(grain) if n[1].startswith("label of") and not n[3]]
        if labels and roll < 0.6:
            name = dice.choice(labels)
            subject = self.named(*name)
            some = self.choices[name[1].removeprefix("label of ")]
            some = dice.sample(some, dice.randint(1, len(some)))
            word = dice.choice(["is", "is not"])
            what = some[0] if len(some) == 1 else "one of " + ", ".join(some)
            return apply(f"({subject.text} {word} {what})", "truth", [subject], lambda x: (x in some) == (word == "is"))
        truths = [n for n in self.names(grain) if n[1] == "truth"]
        if truths and roll < 0.7:
            return self.named(*dice.choice(truths))
        a = self.make(grain, "length", max(depth - 1, 0))
        b = self.make(grain, "length", max(depth - 1, 0))
        op, work = dice.choice(
            [("<", lambda x, y: x < y), ("<=", lambda x, y: x <= y), (">", lambda x, y: x > y), (">=", lambda x, y: x >= y), ("is", lambda x, y: x == y)]
        )
        return apply(f"({a.text} {op} {b.text})", "truth", [a, b], work)


def branch(c, a, b):
    def work(w, row, own):
        holds = c(w, row, own)
        if holds is None:
            return None
        return (a if holds else b)(w, row, own)

    return work
