"""Expressions of the language as trees, read by hand from the description in grammar/language.md.

Shares nothing with the engine: its own units (in metres, kilograms, hours), its own reading of numbers, its own order of operators.
"""

import re
from datetime import date
from fractions import Fraction as F

BASES = ("length", "mass", "labor", "time", "money", "lite", "sash", "point", "opening", "worked", "degree")
NONE = (0,) * len(BASES)


def dim(**powers):
    return tuple(powers.get(b, 0) for b in BASES)


def times(a, b, k=1):
    return tuple(x + k * y for x, y in zip(a, b))


INCH = F(254, 10000)
FOOT = 12 * INCH
POUND = F(45359237, 100000000)
GALLON = 231 * INCH**3
L1, L2, L3 = dim(length=1), dim(length=2), dim(length=3)
MASS, LABOR, TIME, MONEY = dim(mass=1), dim(labor=1), dim(time=1), dim(money=1)
LITE, SASH, POINT, OPENING = dim(lite=1), dim(sash=1), dim(point=1), dim(opening=1)
WORKED, DEGREE = dim(worked=1), dim(degree=1)

# Factors: NIST Handbook 44, Appendix C (inch 25.4 mm, pound 0.45359237 kg, gallon 231 cu in, short ton 2000 lb);
# board foot 144 cu in and square 100 sq ft as the trade counts.
UNITS = {
    "in": (INCH, L1), "inch": (INCH, L1), "inches": (INCH, L1), "ft": (FOOT, L1), "foot": (FOOT, L1), "feet": (FOOT, L1),
    "yd": (3 * FOOT, L1), "mi": (5280 * FOOT, L1), "mm": (F(1, 1000), L1), "cm": (F(1, 100), L1), "m": (F(1), L1),
    "sq in": (INCH**2, L2), "sq ft": (FOOT**2, L2), "sq yd": (9 * FOOT**2, L2), "sq mm": (F(1, 10**6), L2),
    "sq cm": (F(1, 10**4), L2), "sq m": (F(1), L2), "square": (100 * FOOT**2, L2),
    "cu in": (INCH**3, L3), "cu ft": (FOOT**3, L3), "cu yd": (27 * FOOT**3, L3), "cu cm": (F(1, 10**6), L3), "cu m": (F(1), L3),
    "bf": (144 * INCH**3, L3), "gal": (GALLON, L3), "qt": (GALLON / 4, L3), "pt": (GALLON / 8, L3), "fl oz": (GALLON / 128, L3),
    "L": (F(1, 1000), L3), "mL": (F(1, 10**6), L3),
    "lb": (POUND, MASS), "oz": (POUND / 16, MASS), "ton": (2000 * POUND, MASS), "g": (F(1, 1000), MASS), "kg": (F(1), MASS),
    "min": (F(1, 60), LABOR), "h": (F(1), LABOR), "hour": (F(1), LABOR), "hours": (F(1), LABOR),
    "day": (F(1), TIME), "week": (F(7), TIME), "USD": (F(1), MONEY),
    "clock h": (F(1, 24), TIME), "clock min": (F(1, 1440), TIME), "work day": (F(1), WORKED), "F step": (F(1), DEGREE), "C step": (F(9, 5), DEGREE),
    "lite": (F(1), LITE), "lites": (F(1), LITE), "sash": (F(1), SASH), "sashes": (F(1), SASH), "point": (F(1), POINT), "points": (F(1), POINT),
    "opening": (F(1), OPENING),
}
PAIRS = ("sq", "cu", "fl", "clock", "work", "F", "C")
SIGNS = {"½": F(1, 2), "¼": F(1, 4), "¾": F(3, 4), "⅛": F(1, 8), "⅜": F(3, 8), "⅝": F(5, 8), "⅞": F(7, 8), "⅓": F(1, 3), "⅔": F(2, 3)}
RESERVED = set("if then else and or not is rounded per from at where weighted shared when for because interpolated otherwise to choose yes no "
               "unknown by of was".split())
AGGREGATES = {"sum", "count", "least", "most", "mean", "any", "all"}
MODES = [("toward", "zero"), ("away", "from", "zero"), ("half", "up"), ("half", "down"), ("half", "even"), ("up",), ("down",)]

BLANKS = re.compile(r"[ \t\n]*")
WORD = re.compile(r"[A-Za-z_][A-Za-z_0-9]*")
SIGN = "[" + "".join(SIGNS) + "]"
NUMBER = re.compile(rf"(\d+) +(\d+)/(\d+)(?!\d)|(\d+) *({SIGN})|(\d+)/(\d+)(?!\d)|({SIGN})|(\d+(?:\.\d+)?)")
FEET = re.compile(r"(\d+)'(?:-| *)")  # a hyphen between blanks subtracts
DIGITS = set("0123456789") | set(SIGNS)
FIRST = set("<>=+-*/^(),%{}:;")
WHOLE = re.compile(r"\d+")
DAY = re.compile(r"(\d{4})-(\d\d)-(\d\d)(?: (\d\d):(\d\d))?(?![\d-])")
DEGREES = re.compile(r"(-?)(\d+(?:\.\d+)?) (?:°|deg )([FC])\b")
QUOTED = re.compile(r'"([^"]*)"')


class Unreadable(Exception):
    """The text does not follow the grammar."""


class Reader:
    def __init__(self, text):
        self.text = text
        self.at = 0
        self.seen = (-1, None)

    def skip(self):
        if self.text[self.at:self.at + 1] in (" ", "\t", "\n"):
            self.at = BLANKS.match(self.text, self.at).end()

    def sign(self, *signs):
        self.skip()
        if self.text[self.at:self.at + 1] not in FIRST:
            return None
        for s in signs:
            if self.text.startswith(s, self.at):
                self.at += len(s)
                return s
        return None

    def peek_word(self):
        self.skip()
        if self.at == self.seen[0]:
            return self.seen[1]
        self.seen = (self.at, self.word_here())
        return self.seen[1]

    def word_here(self):
        if self.text.startswith("n/a", self.at):
            return "n/a"
        m = WORD.match(self.text, self.at)
        return m.group() if m else None

    def word(self, *wanted):
        """Takes these words when all of them stand here."""
        start = self.at
        for w in wanted:
            if self.peek_word() != w:
                self.at = start
                return False
            self.at += len(w)
        return True

    def need(self, ok):
        if not ok:
            raise Unreadable(f"{self.text[:self.at]} <here> {self.text[self.at:]}")
        return ok

    def name(self):
        w = self.peek_word()
        self.need(w and w not in RESERVED)
        self.at += len(w)
        return w

    # numbers with their units

    def number(self):
        self.skip()
        m = NUMBER.match(self.text, self.at)
        if not m:
            return None
        self.at = m.end()
        a, b, c, d, s, n, q, lone, plain = m.groups()
        if a:
            return F(a) + F(int(b), int(c))
        if d:
            return F(d) + SIGNS[s]
        if n:
            return F(int(n), int(q))
        return SIGNS[lone] if lone else F(plain)

    def one_unit(self):
        start = self.at
        w = self.peek_word()
        if not w or w in RESERVED or w == "n/a":
            return None
        self.at += len(w)
        if w in PAIRS:
            second = self.peek_word()
            if second and f"{w} {second}" in UNITS:
                self.at += len(second)
                return UNITS[f"{w} {second}"]
        ahead = self.at
        self.skip()
        head = self.text.startswith((":", ","), self.at) and re.match(r"(, *[a-z]+)* *:", self.text[self.at:])
        self.at = ahead
        if w in UNITS and not head:
            return UNITS[w]
        self.at = start
        return None

    def unit(self):
        first = self.one_unit()
        if first is None:
            return None
        factor, d = first
        while True:
            start = self.at
            if not self.word("per"):
                return factor, d
            more = self.one_unit()
            if more is None:
                self.at = start
                return factor, d
            factor, d = factor / more[0], times(d, more[1], -1)

    def on_a_scale(self):
        """A day or a moment in days since 1970-01-01, a temperature in degrees Fahrenheit; none when none stands here."""
        self.skip()
        if m := DAY.match(self.text, self.at):
            y, month, d, h, minute = m.groups()
            days = F((date(int(y), int(month), int(d)) - date(1970, 1, 1)).days)
            self.at = m.end()
            return ("on a scale", days + F(int(h or 0), 24) + F(int(minute or 0), 1440))
        if m := DEGREES.match(self.text, self.at):
            self.at = m.end()
            degrees = F(m.group(1) + m.group(2))
            return ("on a scale", degrees if m.group(3) == "F" else degrees * F(9, 5) + 32)
        return None

    def quantity(self):
        """A number with its unit, of one part or several; none when no number stands here."""
        self.skip()
        if self.text[self.at:self.at + 1] not in DIGITS:
            return None
        feet = FEET.match(self.text, self.at)
        if feet:
            self.at = feet.end()
            value = int(feet.group(1)) * FOOT
            before = feet.end(1) + 1
            inches = self.number()
            if inches is not None and self.text.startswith('"', self.at):
                self.at += 1
                return ("number", value + inches * INCH, L1, False)
            self.at = before
            return ("number", value, L1, False)
        value = self.number()
        if value is None:
            return None
        if self.text.startswith('"', self.at):
            self.at += 1
            return ("number", value * INCH, L1, False)
        if self.sign("%"):
            return ("number", value / 100, NONE, True)
        u = self.unit()
        if u is None:
            return ("number", value, NONE, False)
        total, d = value * u[0], u[1]
        while True:
            start = self.at
            more = self.number()
            u = self.unit() if more is not None else None
            if u is None:
                self.at = start
                return ("number", total, d, False)
            self.need(u[1] == d)
            total += more * u[0]

    # from loosest to tightest

    def expression(self):
        value = self.branch()
        while self.word("rounded"):
            mode = next((m for m in MODES if self.word(*m)), ("nearest",))
            self.need(self.word("to"))
            value = ("round", value, " ".join(mode), self.postfix())
        return value

    def branch(self):
        if self.word("if"):
            condition = self.branch()
            self.need(self.word("then"))
            yes = self.branch()
            self.need(self.word("else"))
            return ("if", condition, yes, self.branch())
        return self.either()

    def either(self):
        value = self.both()
        while self.word("or"):
            value = ("or", value, self.both())
        return value

    def both(self):
        value = self.negation()
        while self.word("and"):
            value = ("and", value, self.negation())
        return value

    def negation(self):
        return ("not", self.negation()) if self.word("not") else self.comparison()

    def comparison(self):
        left = self.sum()
        op = self.sign("<=", ">=", "<", ">")
        if op:
            return ("compare", op, left, self.sum())
        if not self.word("is"):
            return left
        turned = self.word("not")
        if self.word("blank"):
            test = ("state", left, "blank")
        elif self.word("n/a"):
            test = ("state", left, "n/a")
        elif self.word("known"):
            test = ("state", left, "known")
        elif self.word("one", "of"):
            labels = [self.name()]
            while self.sign(",") or self.word("or"):
                labels.append(self.name())
            test = ("one of", left, labels)
        elif self.word("between"):
            low = self.sum()
            self.need(self.word("and"))
            test = ("and", ("compare", ">=", left, low), ("compare", "<=", left, self.sum()))
        else:
            test = ("same", left, self.sum())
        return ("not", test) if turned else test

    def sum(self):
        value = self.term()
        while op := self.sign("+", "-"):
            value = (op, value, self.term())
        return value

    def term(self):
        value = self.factor()
        while op := self.sign("*", "/"):
            value = (op, value, self.factor())
        return value

    def factor(self):
        point = self.on_a_scale()  # the sign of a temperature belongs to it
        if point:
            return point
        return ("negative", self.factor()) if self.sign("-") else self.power()

    def power(self):
        value = self.postfix()
        if self.sign("^"):
            minus = self.sign("-")
            self.skip()
            n = self.need(WHOLE.match(self.text, self.at))
            self.at = n.end()
            value = ("^", value, -int(n.group()) if minus else int(n.group()))
        return value

    def postfix(self):
        value = self.atom()
        while True:
            if self.word("per"):
                factor, d = self.need(self.unit())
                value = ("/", value, ("number", factor, d, False))
            elif self.word("if", "blank"):
                value = ("if absent", value, "blank", self.atom())
            elif self.word("if", "n/a"):
                value = ("if absent", value, "n/a", self.atom())
            elif self.word("shared", "by"):
                weight = self.atom()
                step = self.need(self.quantity()) if self.word("in", "steps", "of") else None
                value = ("shared", value, weight, step)
            else:
                return value

    def atom(self):
        point = self.on_a_scale()
        if point:
            return point
        if m := QUOTED.match(self.text, self.at):
            self.at = m.end()
            return ("text", m.group(1))
        q = self.quantity()
        if q:
            return q
        if self.sign("("):
            value = self.expression()
            self.need(self.sign(")"))
            return value
        for word, value in (("yes", ("truth", True)), ("no", ("truth", False)), ("unknown", ("unknown",))):
            if self.word(word):
                return value
        if self.word("choose"):
            return self.choose()
        w = self.peek_word()
        if w in AGGREGATES and re.match(rf"{w} +of\b", self.text[self.at:]):
            self.need(self.word(w, "of"))
            of = self.atom()
            weight = self.atom() if self.word("weighted", "by") else None
            where = self.either() if self.word("where") else None
            return ("up", w, of, weight, where)
        n = self.name()
        if self.sign("("):
            args = [self.expression()]
            while self.sign(","):
                args.append(self.expression())
            self.need(self.sign(")"))
            return ("call", n, args)
        if self.word("from"):
            table = self.name()
            self.need(self.word("at"))
            keys = [self.atom()]
            while self.sign(","):
                keys.append(self.atom())
            return ("look up", n, table, keys, self.word("interpolated"))
        return ("name", n)

    def choose(self):
        subject = self.sum()
        self.need(self.sign("{"))
        arms = []
        while not self.sign("}"):
            if self.word("otherwise"):
                labels = None
            else:
                labels = [self.name()]
                while self.sign(","):
                    labels.append(self.name())
            self.need(self.sign(":"))
            arms.append((labels, self.expression()))
            self.sign(";")
        return ("choose", subject, arms)


def read(text):
    reader = Reader(text)
    tree = reader.expression()
    reader.skip()
    reader.need(reader.at == len(text))
    return tree
