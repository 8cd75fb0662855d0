"""Makes a whole job at random: sheets of three layers, alternates, survey, prices, with what every value and every line must come to."""

from fractions import Fraction

from changing import Changing
from formulas import F, Maker, apply, constant, length
from money import shares
from working import GAP, Definition, Row, Stage, Take, World, rounded
from writing import Writing


class Resource:
    def __init__(self, kind, unit, unit_base, counted=False):
        self.kind, self.unit, self.unit_base, self.counted = kind, unit, Fraction(unit_base), counted
        self.price, self.waste, self.gain, self.packs = [], [], [], []


class Terms:
    """What pricing reads of the job."""

    def __init__(self):
        self.resources, self.phases, self.charges = {}, [], []
        self.ties, self.each_opening, self.final = "half up", False, None


class Job(Changing, Writing):
    def __init__(self, dice):
        self.dice = dice
        self.text = {layer: [] for layer in ("base", "shop", "job")}
        self.blocks = {grain: [] for grain in ("opening", "sash", "defect", "batch", "job")}
        self.rows = {"job": [Row("job", "")], "opening": [], "sash": [], "defect": [], "batch": []}
        self.takes, self.sends, self.definitions, self.names_there = [], [], [], []
        self.seen_changes, self.said_at = set(), set()
        self.choices, self.fates, self.terms = {}, [], Terms()
        self.terms.phases = ["Removal", "Making", "Glazing"]
        self.ties = dice.choice(["half up", "half down", "half even"])
        self.alternates = [f"Plan {n}" for n in "BC"[: dice.randint(0, 2)]]
        self.lines_of_alternate = {name: [] for name in self.alternates}
        # The plan that is picked, at what share of the cost of the other, and the other; without a name it is the job as decided.
        self.mix = None
        if self.alternates and dice.random() < 0.4:
            self.mix = (self.alternates[0], Fraction(dice.choice([60, 100, 101, 130]), 100), dice.choice((self.alternates + [None])[1:]))
        self.maker = Maker(dice, self.names, self.choices, self.ties)
        self.has_sash = dice.random() < 0.85
        self.from_count = self.has_sash and dice.random() < 0.3
        self.is_extended = dice.random() < 0.6
        self.declare()
        self.columns()
        self.openings()
        self.givens()
        self.tables()
        self.rules()
        self.decisions()
        self.resources()
        self.amounts()
        self.later_layers()
        self.money()
        self.group()
        self.versions = [self.version(World(self, a)) for a in [None] + self.alternates]
        if self.mix:
            self.versions.append(self.version(self.mixed()))

    # ---- helpers ----

    def names(self, grain):
        reach = {"const": ["const"], "job": ["const", "job"], "batch": ["const", "job", "batch"]}
        reach["opening"] = reach["batch"] + ["opening"]
        reach["sash"] = reach["opening"] + ["sash"]
        reach["defect"] = reach["sash"] + ["defect"]
        own = {n[0] for n in self.names_there if n[2].grain == grain}
        # A row's own column hides the one above of the same name.
        there = [n for n in self.names_there if n[2].grain in reach[grain]]
        return [n for n in there if n[2].grain == grain or n[0] not in own]

    def define(self, grain, name, kind, formula, optional=False, counts=True):
        definition = Definition(grain, name, kind)
        definition.stages.append(Stage("base", formula))
        definition.counts = counts
        definition.is_unsure = optional or self.maker.is_unsure
        self.maker.is_unsure = False
        definition.before = len(self.names_there)
        self.names_there.append((name, kind, definition, optional))
        self.definitions.append(definition)
        return definition

    def at_stage(self, definition, make):
        """Makes a formula that may read only what was there before a definition, and that itself."""
        after = self.names_there[definition.before + 1 :]
        self.names_there = self.names_there[: definition.before + 1]
        made = make()
        self.names_there = self.names_there + after
        return made

    # ---- the base sheet ----

    def declare(self):
        self.text["base"] += ['sheet "Base" layer base', "counted point, hook, lite"]
        self.text["base"].append('phases "Removal", "Making", "Glazing"')
        self.text["base"] += ["helper third(a) = a / 3", "choice paint_state one of firm, peeling"]
        self.text["base"] += ['given remark  "as found"', "given shape  flat one of flat, arched", 'caution "wear gloves"']
        self.choices["paint_state"], self.choices["shape"] = ["firm", "peeling"], ["flat", "arched"]
        self.define("const", "shape", "label of shape", constant("flat"))
        self.define("const", "remark", "text", constant("as found"))
        self.spellings = {"single": "one leaf", "pair": "P", "hung": "sash window"}
        self.choices["kind"] = ["single", "pair", "hung"]
        self.row_labels = {"single": ["whole"], "pair": ["left", "right"], "hung": ["upper", "lower"]}
        self.codes = {"whole": "S", "left": "1", "right": "2", "upper": "U", "lower": "L"}
        self.choices["place"] = list(self.codes)
        if self.is_extended:
            self.row_labels["triple"] = ["left", "middle", "right"]

    def columns(self):
        cell = lambda name: lambda w, row, own: row.cells[name]
        self.text["base"] += ["survey opening {", "  mark  text key", "  wing  text"]
        spelled = ", ".join(f'{k} ("{self.spellings[k]}")' for k in self.choices["kind"])
        self.text["base"] += [f"  kind  one of {spelled}", "  wide  length in in  between 6 in and 10 ft"]
        self.text["base"] += ["  high  length in in", "  across  number whole", "  leaded  yes or no  if blank yes"]
        self.text["base"] += ["  thick  length in in  optional", "  rot  percent  if blank 0 %", "  leaves  number whole"]
        self.text["base"] += ["  pattern  lites", "  paint  of paint_state", "}"]
        self.blocks["opening"] += ['  require wide > 0 in  else "{mark} has no width"', '  caution "mind the paint of {mark}" when leaded']
        column = lambda grain, name, kind, **more: self.define(grain, name, kind, cell(name), counts=False, **more)
        self.column = {}
        for name, kind in [("kind", "label of kind"), ("wide", "length"), ("high", "length"), ("across", "number"), ("leaded", "truth")]:
            self.column[name] = column("opening", name, kind)
        self.column["thick"] = column("opening", "thick", "length", optional=True)
        self.column["rot"] = column("opening", "rot", "percent")
        self.column["wing"] = column("opening", "wing", "text")
        self.column["paint"] = column("opening", "paint", "label of paint_state")
        if not self.has_sash:
            return
        by = "number  number whole" if self.from_count else "place  one of " + ", ".join(f'{p} ("{c}")' for p, c in self.codes.items())
        self.text["base"] += ["survey sash of opening by mark {", "  sash_mark  text key", "  mark  text", f"  {by}"]
        self.text["base"] += ["  across  number whole  else opening", "  rot  percent  else opening"]
        self.text["base"] += ["  lites  count of lite  else pattern of opening", "  stuck  yes or no  if blank no", "  trim  length in in  optional", "}"]
        if self.from_count:
            self.text["base"].append("rows sash by number from leaves")
        else:
            kinds = [f"  {k}: {', '.join(self.row_labels[k])}" for k in self.choices["kind"]]
            self.text["base"] += ["rows sash by place from kind {"] + kinds + ["}"]
            column("sash", "place", "label of place")

        def or_above(name):
            above = self.column[name]
            return lambda w, row, own: w.value(above, row.above) if row.cells[name] is None else row.cells[name]

        self.column["sash across"] = self.define("sash", "across", "number", or_above("across"), counts=False)
        self.column["sash rot"] = self.define("sash", "rot", "percent", or_above("rot"), counts=False)
        self.column["stuck"] = column("sash", "stuck", "truth")
        column("sash", "trim", "length", optional=True)
        column("sash", "lites", "lites")

    def openings(self):
        dice = self.dice
        kinds = self.choices["kind"] + (["triple"] if self.is_extended else [])
        self.base_kinds = list(self.choices["kind"])
        for at in range(dice.randint(1, 6)):
            row = Row("opening", f"N{at + 1}")
            kind = dice.choice(kinds)
            leaves = dice.randint(1, 3)
            lites = [Fraction(dice.randint(1, 9)), Fraction(dice.randint(1, 9))]
            count = leaves if self.from_count else len(self.row_labels[kind])
            if count != 2:
                lites = lites[:1]
            row.cells = {
                "mark": row.mark,
                "wing": dice.choice(["North", "South", "East"]),
                "kind": kind,
                "wide": Fraction(dice.randint(48, 960), 8),
                "high": Fraction(dice.randint(48, 960), 8),
                "across": Fraction(dice.randint(1, 6)),
                "leaded": dice.choice([True, False]),
                "thick": dice.choice([None, Fraction(dice.randint(8, 20), 8)]),
                "rot": Fraction(dice.choice([0, 5, 10, 20, 50, 51, 80]), 100),
                "leaves": Fraction(leaves),
                "pattern": lites,
                "paint": dice.choice(self.choices["paint_state"]),
            }
            self.rows["opening"].append(row)
            codes = range(1, leaves + 1) if self.from_count else self.row_labels[kind]
            for n, code in enumerate(codes if self.has_sash else []):
                mark = f"{row.mark}-{code if self.from_count else self.codes.get(code, 'M')}"
                sash = Row("sash", mark, above=row)
                sash.cells = {"place": code, "across": None, "rot": None, "stuck": False, "trim": None}
                sash.cells["lites"] = lites[n] if len(lites) == 2 else lites[0]
                sash.is_given = dice.random() < 0.4
                if sash.is_given:
                    sash.cells["across"] = dice.choice([None, Fraction(dice.randint(1, 6))])
                    sash.cells["rot"] = dice.choice([None, Fraction(dice.randint(0, 100), 100)])
                    sash.cells["stuck"] = dice.choice([True, False])
                    sash.cells["trim"] = dice.choice([None, Fraction(dice.randint(2, 20), 4)])
                self.rows["sash"].append(sash)
        self.defects()
        self.group_keys = dice.choice([["kind"], ["wing"], ["kind", "leaded"]])

    def defects(self):
        """A table below the sash, or below the openings where there are none, whose cells may read the row above."""
        dice = self.dice
        above = "sash" if self.has_sash else "opening"
        key = "sash_mark" if self.has_sash else "mark"
        self.text["base"] += [f"survey defect of {above} by {key} {{", "  item  text key", f"  {key}  text", "  long  length in in  adds up"]
        self.text["base"] += [f"  across  number whole  else {above}", "}"]
        for at in range(dice.randint(0, 5)):
            row = Row("defect", f"D{at + 1}", above=dice.choice(self.rows[above]))
            row.cells = {"long": Fraction(dice.randint(1, 200), 8), "across": dice.choice([None, Fraction(dice.randint(1, 6))])}
            self.rows["defect"].append(row)
        self.define("defect", "long", "length", lambda w, row, own: row.cells["long"], counts=False)
        read = self.column["sash across" if self.has_sash else "across"]

        def or_above(w, row, own):
            return w.value(read, row.above) if row.cells["across"] is None else row.cells["across"]

        self.column["defect across"] = self.define("defect", "across", "number", or_above, counts=False)

    def group(self):
        """Puts openings into groups by their keys as decided, in order of first appearance."""
        world, groups = World(self, None), {}
        for row in self.rows["opening"]:
            key = tuple(world.value(self.column[k], row) for k in self.group_keys)
            if key not in groups:
                groups[key] = Row("batch", str(len(groups)))
                self.rows["batch"].append(groups[key])
            row.group = groups[key]

    def givens(self):
        dice = self.dice
        self.amounts_given = {}
        for at in range(dice.randint(1, 3)):
            name, value = f"size_{at}", Fraction(dice.randint(8, 80), 8)
            limits = f"   from {length(value / 2, dice)} to {length(value * 2, dice)}" if dice.random() < 0.6 else ""
            self.text["base"].append(f"given {name}  {length(value, dice)}{limits}")
            self.amounts_given[name] = (self.define("const", name, "length", constant(value)), value, bool(limits))
        self.choices["crew"] = ["one_hand", "two_hands"]
        crew, wet = dice.choice(self.choices["crew"]), dice.choice([True, False])
        self.text["base"] += [f"choice crew one of one_hand, two_hands", f"given hands  {crew} of crew", f"given wet  {'yes' if wet else 'no'}"]
        self.hands = self.define("const", "hands", "label of crew", constant(crew))
        self.wet = self.define("const", "wet", "truth", constant(wet))
        # Facts: some are answered, some are assumed.
        assumed = Fraction(dice.randint(2, 9))
        self.text["base"] += [
            f'given storeys  asked number  unanswered {assumed} because "until it is counted"',
            'given child_place  asked yes or no  unanswered yes because "until the owner says not"',
            "given reach  asked one of ladder, scaffold",
            "given ledge  asked length in in",
        ]
        self.choices["reach"] = ["ladder", "scaffold"]
        self.storeys = self.define("const", "storeys", "number", constant(assumed))
        self.child_place = self.define("const", "child_place", "truth", constant(True))
        self.reach = self.define("const", "reach", "label of reach", constant(None))
        self.ledge = self.define("const", "ledge", "length", constant(None))
        # These two have no value until the job answers.
        self.reach.stages.append(Stage("job", constant("ladder")))
        self.ledge.stages.append(Stage("job", constant(Fraction(7, 2))))

    def tables(self):
        dice = self.dice
        self.bands = [[Fraction(0), Fraction(30), Fraction(dice.randint(1, 50))], [Fraction(30), Fraction(72), Fraction(dice.randint(1, 50))]]
        self.bands.append([Fraction(72), None, Fraction(dice.randint(1, 50))])
        lines = ["table pace_of by size {", "  size (in) | pace (min)"]
        for low, high, pace in self.bands:
            band = f"{low} and over" if high is None else f"{low} to {high}"
            lines.append(f"  {band} | {pace}")
        self.text["base"] += lines + ["}"]
        # Points of a line that is read between them, in any order.
        self.points = [[Fraction(at), Fraction(dice.randint(-50, 90))] for at in dice.sample(range(2, 120), dice.randint(2, 5))]
        lines = ["table trend by size {", "  size (in) | step (min)"] + [f"  {at} | {value}" for at, value in self.points]
        self.text["base"] += lines + ["}"]

    def between(self, at):
        """What the line holds at a place that lies between its ends, both in."""
        points = sorted(self.points)
        for (a, low), (b, high) in zip(points, points[1:]):
            if a <= at <= b:
                return low + (high - low) * (at - a) / (b - a)
        raise AssertionError("the place lies between the ends")

    def trend(self, grain):
        sub = self.maker.make(grain, "length", 2)
        least, most = min(self.points)[0], max(self.points)[0]
        text = f"step from trend at (smaller(larger({sub.text}, {least} in), {most} in)) interpolated"

        def work(w, row, own):
            value = sub(w, row, own)
            return None if value is None else self.between(min(max(value, least), most))

        return F(text, "minutes", work)

    def pace(self, value):
        for low, high, pace in self.bands:
            if value >= low and (high is None or value < high):
                return pace
        raise AssertionError("the bands hold everything from zero")

    def rules(self):
        dice = self.dice
        grains = ["job", "opening", "opening", "opening", "batch", "defect"] + ["sash"] * (3 if self.has_sash else 0)
        for at in range(dice.randint(4, 10)):
            grain, kind = dice.choice(grains), dice.choice(["length", "number", "minutes", "truth"])
            name = f"r{at}"
            self.maker.is_unsure = False
            made = self.going_up(grain, kind) if grain in ("job", "batch") or dice.random() < 0.3 else None
            if made is None and dice.random() < 0.15 and kind == "minutes":
                sub = self.maker.make(grain, "length", 2)
                made = F(f"pace from pace_of at (abs({sub.text}))", kind, self.looked_up(sub))
            if made is None and dice.random() < 0.2 and kind == "minutes":
                made = self.trend(grain)
            made = made or self.maker.make(grain, kind, 3)
            adds = kind in ("length", "number", "minutes")
            self.blocks[grain].append(f"  {name} = {made.text}" + ("  adds up" if adds else ""))
            definition = self.define(grain, name, kind, made)
            definition.changes = adds

    def looked_up(self, sub):
        def work(w, row, own):
            value = sub(w, row, own)
            return None if value is None else self.pace(abs(value))

        return work

    def going_up(self, grain, kind):
        dice = self.dice
        order = ["job", "batch", "opening", "sash", "defect"]
        finer = [g for g in order[order.index(grain) + 1 :] if g != "batch"]
        finer = [g for g in finer if self.rows[g] and (g != "sash" or self.has_sash)]
        if not finer:
            return None
        below = dice.choice(finer)
        rules = [n for n in self.names_there if n[1] == kind and n[2].grain == below and n[2].counts]
        test = self.maker.test(below, 1) if dice.random() < 0.4 else None
        where = f" where {test.text}" if test else ""

        def known(definition):
            def values(w, row):
                rows = w.finer(row, below)
                if test:
                    rows = [r for r in rows if test(w, r, None)]
                return [v for v in (w.value(definition, r) for r in rows) if v is not None]

            return values

        if kind == "truth" and rules:
            name, _, definition, _ = dice.choice(rules)
            word, work = dice.choice([("any", any), ("all", all)])

            values = known(definition)
            self.maker.is_unsure = False
            return F(f"{word} of {name}{where}", kind, lambda w, row, own: work(values(w, row)))
        if kind in ("length", "minutes", "number") and rules:
            name, _, definition, _ = dice.choice(rules)
            values = known(definition)
            self.maker.is_unsure = False
            return F(f"sum of {name}{where}", kind, lambda w, row, own: sum(values(w, row), Fraction(0)))
        return None

    def decisions(self):
        dice = self.dice
        self.choices["treatment"] = ["retain", "mend", "renew"]
        self.text["base"].append('choice treatment one of retain, mend ("repair"), renew ("replace")')
        grains = ["opening"] + (["sash"] if self.has_sash else [])
        for at in range(dice.randint(1, 3)):
            grain = dice.choice(grains)
            name = f"fate_{at}"
            way = dice.choice(["rot", "first", "table", "kind"])
            getattr(self, f"decide_by_{way}")(grain, name)

    def decision(self, grain, name, lines, lacks_triple=False):
        """Lines are a label, a test or nothing for all others, a reason."""

        def line(w, row, own):
            for label, test, reason in lines:
                if test is None or test(w, row, own):
                    return label, reason
            return GAP, None

        definition = self.define(grain, name, "label of treatment", lambda w, row, own: line(w, row, own)[0])
        definition.stages[0].reason = lambda w, row, own: line(w, row, own)[1]
        definition.lacks_triple = lacks_triple and self.is_extended
        self.fates.append(definition)

    def written(self, grain, name, how, lines):
        self.blocks[grain].append(f"  decide {name} of treatment{how} {{")
        for label, test, reason in lines:
            when = f"when {test.text}" if test else "otherwise"
            self.blocks[grain].append(f'    {label}  {when}  because "{reason}"')
        self.blocks[grain].append("  }")

    def rot(self, grain):
        return self.column["sash rot" if grain == "sash" else "rot"]

    def decide_by_rot(self, grain, name):
        rot = self.rot(grain)
        low, high = Fraction(self.dice.choice([5, 10, 20]), 100), Fraction(self.dice.choice([50, 80]), 100)
        read = lambda work: lambda w, row, own: work(w.read(rot, row, own))
        a = F(f"rot < {low * 100} %", "truth", read(lambda x: x < low))
        b = F(f"rot is between {low * 100} % and {high * 100} %", "truth", read(lambda x: low <= x <= high))
        c = F(f"rot > {high * 100} %", "truth", read(lambda x: x > high))
        lines = [("retain", a, self.reason()), ("mend", b, self.reason()), ("renew", c, self.reason())]
        self.dice.shuffle(lines)
        self.written(grain, name, "", lines)
        self.decision(grain, name, lines)

    def decide_by_first(self, grain, name):
        tests = [self.sure_test(grain) for _ in range(self.dice.randint(1, 3))]
        lines = [(self.dice.choice(self.choices["treatment"]), test, self.reason()) for test in tests]
        lines.append((self.dice.choice(self.choices["treatment"]), None, self.reason()))
        self.written(grain, name, " first that holds", lines)
        self.decision(grain, name, lines)

    def sure_test(self, grain):
        """A test that is never unknown, so that every row is decided."""
        return self.maker.sure(lambda: self.maker.test(grain, 1))

    def decide_by_kind(self, grain, name):
        kind = self.column["kind"]
        read = lambda labels: lambda w, row, own: w.read(kind, row, own) in labels
        lines = [
            ("retain", F("kind is single", "truth", read(["single"])), self.reason()),
            ("renew", F("kind is one of pair, hung", "truth", read(["pair", "hung"])), self.reason()),
        ]
        self.written(grain, name, "", lines)
        self.decision(grain, name, lines, lacks_triple=True)

    def decide_by_table(self, grain, name):
        kind, rot = self.column["kind"], self.rot(grain)
        at = Fraction(self.dice.choice([10, 50]), 100)
        one, two, three = (self.reason() for _ in range(3))

        def read(labels, low):
            def work(w, row, own):
                of_kind = w.read(kind, row, own) in labels
                return of_kind and (low is None or (w.read(rot, row, own) < at) == low)

            return work

        lines = [
            ("retain", F("", "truth", read(["single", "pair"], True)), one),
            ("mend", F("", "truth", read(["single", "pair"], False)), two),
            ("renew", F("", "truth", read(["hung"], None)), three),
        ]
        rows = [("single or pair", f"under {at * 100} %", "retain", one), ("single or pair", f"{at * 100} % and over", "mend", two)]
        rows.append(("hung", "any", "renew", three))
        self.blocks[grain] += [f"  decide {name} of treatment by {{", f"    kind | rot | {name} | because"]
        self.blocks[grain] += [f'    {a} | {b} | {c} | "{d}"' for a, b, c, d in rows] + ["  }"]
        self.decision(grain, name, lines, lacks_triple=True)

    # ---- resources, takes, parts ----

    def resource(self, name, kind, unit, base, counted=False):
        dice = self.dice
        made = Resource(kind, unit, base, counted)
        self.terms.resources[name] = made
        more = ""
        if kind not in ("labor",):
            share = Fraction(dice.choice([10, 20, 35]), 100)
            if dice.random() < 0.4:
                more += f"  waste {share * 100} %"
                made.waste.append(Stage("base", constant(share)))
            elif dice.random() < 0.4:
                more += f"  yield {100 - share * 100} %"
                made.gain.append(Stage("base", constant(1 - share)))
            if dice.random() < 0.3:
                holds = dice.randint(2, 60)
                more += f"  bought in boxes of {holds} {unit}"
                made.packs.append(Stage("base", holds))
        price = Fraction(dice.randint(50, 9000), 100)
        made.book = price
        made.price.append(Stage("base", constant(price)))
        self.text["base"].append(f"resource {name}  {kind}  {unit}{more}")

    def resources(self):
        self.resource("glazier", "labor", "h", 60)
        self.resource("joiner", "labor", "h", 60)
        self.resource("helper", "labor", "h", 60)
        self.resource("pine", "stock", "bf", 144)
        self.resource("pane", "glass", "sq ft", 144)
        self.resource("pin", "points", "point", 1, counted=True)
        self.resource("cord", "other", "ft", 12)
        self.resource("hinge", "other", "hook", 1, counted=True)
        self.resource("fence", self.dice.choice(["equipment", "subcontract", "disposal"]), "ft", 12)

    def floored(self, grain, kind, least, is_size=False):
        """A formula that comes to a least amount at the least."""
        if is_size:
            made = self.maker.make(grain, kind, 2)
        else:
            # From a rule of its own that adds up, whatever it is worked from.
            self.maker.is_unsure = False
            made = self.maker.make(grain, "number", 2)
            name = f"w{len(self.definitions)}"
            self.blocks[grain].append(f"  {name} = {made.text}  adds up")
            rule = self.define(grain, name, "number", made)
            made = F(name, "number", lambda w, row, own: w.read(rule, row, own))
            if kind != "number":
                made = apply_times(made, self.maker.literal(kind))
            self.maker.is_unsure = rule.is_unsure
        text = {"minutes": f"{least} min", "length": f"{least} in", "number": f"{least}"}[kind]
        work = lambda w, row, own: (lambda x: None if x is None else max(x, Fraction(least)))(made(w, row, own))
        return F(f"larger({made.text}, {text})", kind, work)

    def take(self, grain, resource, amount, shared=None):
        phase = self.dice.choice(self.terms.phases)
        when = self.maker.test(grain, 1) if self.dice.random() < 0.4 else None
        self.takes.append(Take(grain, resource, phase, amount, when, shared))
        line = f'  take {resource}  {amount.text}  for "{phase}"' + (f"  when {when.text}" if when else "")
        self.blocks[grain].append(line + (f"  shared by {shared.weight}" if shared else ""))

    def amounts(self):
        dice = self.dice
        weight = self.maker.sure(lambda: self.floored("opening", "number", 1))
        self.blocks["opening"].append(f"  load = {weight.text}  adds up")
        load = self.define("opening", "load", "number", weight)
        load.changes = False
        self.in_steps(load)
        shared = lambda w, row, own: w.value(load, row)
        shared.weight = "load"
        grains = ["opening", "opening", "batch", "job", "defect"] + (["sash", "sash"] if self.has_sash else [])
        for _ in range(dice.randint(2, 6)):
            grain = dice.choice(grains)
            split = shared if grain in ("batch", "job") and dice.random() < 0.5 else None
            self.take(grain, dice.choice(["glazier", "joiner"]), self.floored(grain, "minutes", 0), split)
        if dice.random() < 0.7:
            self.take("opening", dice.choice(["cord", "fence"]), self.floored("opening", "length", 0))
        if dice.random() < 0.7:
            base = self.floored("opening", "number", 0)
            whole = lambda w, row, own: rounded(base(w, row, own), Fraction(1), "up")
            self.take("opening", "pin", F(f"({base.text} rounded up to 1) * 1 point", "points", whole))
        for at in range(dice.randint(1, 3)):
            self.part(dice.choice(["opening", "sash"] if self.has_sash else ["opening"]), f"piece_{at}")

    def in_steps(self, load):
        """Amounts of a group or of the job that are handed down in whole steps."""
        dice = self.dice
        for at in range(dice.randint(0, 2)):
            grain, step = dice.choice(["batch", "job"]), Fraction(dice.choice([1, 5, 15]))
            base = self.maker.sure(lambda: self.floored(grain, "minutes", 0))
            self.blocks[grain].append(f"  lump_{at} = {base.text} rounded up to {step} min  adds up")
            up = (lambda base, step: lambda w, row, own: rounded(base(w, row, own), step, "up"))(base, step)
            lump = self.define(grain, f"lump_{at}", "minutes", F("", "minutes", up))
            self.blocks["opening"].append(f"  cut_{at} = lump_{at} shared by load in steps of {step} min")
            self.define("opening", f"cut_{at}", "minutes", F("", "minutes", self.handed_down(lump, load, step)))

    @staticmethod
    def handed_down(lump, load, step):
        def work(w, row, own):
            above = w.coarser(row, lump.grain)
            rows = w.finer(above, "opening")
            steps = int(w.value(lump, above) / step)
            return shares(steps, [w.value(load, r) for r in rows])[rows.index(row)] * step

        return work

    def part(self, grain, name):
        dice = self.dice
        resource, sides = dice.choice(
            [("pine", ["length", "width", "thickness"]), ("pane", ["width", "height"]), ("cord", ["length"]), ("hinge", [])]
        )
        if resource == "cord" and any(t.resource == "cord" for t in self.takes):
            resource, sides = "pane", ["width", "height"]
        phase = dice.choice(self.terms.phases)
        when = self.sure_test(grain) if dice.random() < 0.5 else None
        across = self.column["sash across" if grain == "sash" else "across"]
        if dice.random() < 0.5:
            n = dice.randint(1, 4)
            count = F(str(n), "number", constant(Fraction(n)))
        else:
            count = F("across", "number", lambda w, row, own: w.read(across, row, own))
        kept = "  else kept" if when and dice.random() < 0.3 else ""
        head = f'  part {name}  {count.text} of {resource} for "{phase}"' + (f"  when {when.text}" if when else "")
        lines, factors = [head + kept + " {"], [count]
        for side in sides:
            size = self.maker.sure(lambda: self.floored(grain, "length", 1, is_size=True))
            extra = Fraction(dice.randint(0, 8), 4)
            rough = f"  rough {size.text} + {length(extra, dice)}" if extra else ""
            lines.append(f"    {side}  {size.text}{rough}")
            factors.append(F("", "length", (lambda s, e: lambda w, row, own: s(w, row, own) + e)(size, extra)))
        if dice.random() < 0.5:
            lines.append('    member  "stile"')
        self.blocks[grain] += lines + ["  }"]

        def volume(w, row, own):
            out = Fraction(1)
            for factor in factors:
                value = factor(w, row, own)
                if value is None:
                    return None
                out *= value
            return out

        self.takes.append(Take(grain, resource, phase, F("", "amount", volume), when))
        if resource == "pine" and dice.random() < 0.5:
            amount = F("1/2 bf", "amount", constant(Fraction(72)))
            self.takes.append(Take(grain, "pine", phase, amount))
            self.blocks[grain].append(f'  take pine  1/2 bf  for "{phase}"  besides parts')


def apply_times(a, b):
    return apply(f"{a.text} * {b.text}", b.kind, [a, b], lambda x, y: x * y)
