"""The job sheet and the files of a made job, and what is expected of each version."""

from fractions import Fraction

from formulas import constant, fraction_text
from money import Priced
from working import Stage, World

MIXED = "Mixed"
UNIT_OF_KIND = {"length": "in", "number": "", "minutes": "min", "truth": "", "text": ""}


class Writing:
    def money(self):
        dice, terms = self.dice, self.terms
        terms.ties = self.ties
        terms.each_opening = dice.random() < 0.3
        lines = ["job {", '  survey opening from "survey.csv"']
        given = [s for s in self.rows["sash"] if s.is_given]
        if given:
            lines.append('  survey sash from "sash.csv"')
        if self.rows["defect"]:
            lines.append('  survey defect from "defects.csv"')
        lines += ['  prices from "prices.csv"', "  money USD", f"  ties {self.ties}", "  split by wing"]
        lines += [f"  round money {'each opening' if terms.each_opening else 'each line'}", "}"]
        self.text["job"] += lines
        if dice.random() < 0.5:
            wage, tax = Fraction(dice.randint(1500, 5000), 100), Fraction(dice.randint(100, 2000), 10000)
            self.text["job"] += ["pay glazier {", f"  wage  {float(wage):.2f} USD per h", f"  tax  {float(tax * 100)} % of wage", "}"]
            # It counts more than a price of the book or of a lower layer, and less than a change in the job.
            terms.resources["glazier"].price.insert(0, Stage("job", constant(wage * (1 + tax))))
            terms.resources["glazier"].book = None
        for at in range(dice.randint(0, 4)):
            name = f"charge_{at}"
            kind = dice.choice(["of", "mark-up", "margin", "by item", "by invoice", "sum"])
            share = Fraction(dice.randint(10, 3000), 10000)
            earlier = [c[0] for c in terms.charges]
            bases = dice.choice(["all so far", ["labor"], ["materials"], ["stock", "glass"], ["labor", "materials"]] + [[c] for c in earlier])
            if kind in ("by item", "by invoice") and bases == "all so far":
                bases = ["materials"]
            base = bases if isinstance(bases, str) else ", ".join(bases)
            percent = f"{float(share * 100)} %"
            if kind == "sum":
                share = Fraction(dice.randint(100, 90000), 100)
                self.text["job"].append(f"{dice.choice(['charge', 'allowance'])} {name} {float(share):.2f} USD")
            elif kind in ("mark-up", "margin"):
                self.text["job"].append(f"charge {name} {percent} {kind} on {base}")
            else:
                self.text["job"].append(f"charge {name} {percent} of {base}{' ' + kind if kind != 'of' else ''}")
            terms.charges.append((name, kind, share, bases))
        if dice.random() < 0.4:
            terms.final = (dice.choice(["up", "down"]), Fraction(dice.choice([1, 5, 10])))
            self.text["job"].append(f"final rounded {terms.final[0]} to {terms.final[1]} USD")

    def survey_csv(self):
        dice = self.dice
        columns = list(self.headings)
        dice.shuffle(columns)
        lines = [",".join(self.headings[c] for c in columns)]
        for row in self.rows["opening"]:
            cells = []
            for c in columns:
                v = row.cells[c]
                if c == "kind":
                    v = dice.choice([v, self.spellings[v]])
                elif c == "pattern":
                    v = "/".join(str(x) for x in v)
                elif c == "wide" and self.in_cm:
                    v = fraction_text(v * Fraction(127, 50))
                elif c in ("wide", "high", "thick", "ladder"):
                    v = "" if v is None else dice.choice([fraction_text(v), f"{fraction_text(v)} in"])
                elif c == "leaded":
                    v = dice.choice(["yes", "x"] + [""]) if v else "no"
                elif c == "rot":
                    v = f"{v * 100} %" if v else ""
                cells.append(str(v))
            lines.append(",".join(cells))
        return "\n".join(lines) + "\n"

    def sash_csv(self):
        by = "number" if self.from_count else "place"
        lines = [f"mark,{by},across,rot,stuck,trim"]
        for sash in [s for s in self.rows["sash"] if s.is_given]:
            c = sash.cells
            place = c["place"] if self.from_count else self.dice.choice([c["place"], self.codes[c["place"]]])
            across = "" if c["across"] is None else c["across"]
            rot = "" if c["rot"] is None else f"{c['rot'] * 100} %"
            trim = "" if c["trim"] is None else fraction_text(c["trim"])
            lines.append(f"{sash.above.mark},{place},{across},{rot},{'yes' if c['stuck'] else ''},{trim}")
        return "\n".join(lines) + "\n"

    def defects_csv(self):
        lines = [f"item,{'sash_mark' if self.has_sash else 'mark'},long,across"]
        for row in self.rows["defect"]:
            across = "" if row.cells["across"] is None else row.cells["across"]
            lines.append(f"{row.mark},{row.above.mark},{fraction_text(row.cells['long'])},{across}")
        return "\n".join(lines) + "\n"

    def files(self):
        base = list(self.text["base"])
        heads = {g: f"for each {g} {{" for g in ("opening", "sash", "defect")} | {"job": "for the job {"}
        heads["batch"] = f"for each batch of opening by {', '.join(self.group_keys)} {{"
        for grain, lines in self.blocks.items():
            if lines:
                base += [heads[grain]] + lines + ["}"]
        job = ['sheet "Job" layer job', 'use "shop.ovo"'] + self.text["job"]
        for name, lines in self.lines_of_alternate.items():
            job += [f'alternate "{name}" {{'] + lines + ["}"]
        if self.mix:
            plan, share, other = self.mix
            other = other or "as decided"
            pick = f'  pick "{plan}" where cost less than {share * 100} % of "{other}" otherwise "{other}"'
            job += [f'alternate "{MIXED}" {{', pick, "}"]
        prices = ["resource,unit,price"]
        prices += [f"{n},{r.unit},{float(r.book):.2f}" for n, r in self.terms.resources.items() if r.book is not None]
        return {
            "base.ovo": "\n".join(base) + "\n",
            "shop.ovo": "\n".join(['sheet "Shop" layer shop', 'use "base.ovo"'] + self.text["shop"]) + "\n",
            "job.ovo": "\n".join(job) + "\n",
            "survey.csv": self.survey_csv(),
            "sash.csv": self.sash_csv(),
            "defects.csv": self.defects_csv(),
            "prices.csv": "\n".join(prices) + "\n",
        }

    def mixed(self):
        """The world in which each opening takes one of two plans, by what it costs under each."""
        plan, share, other = self.mix
        costs = lambda name: dict(self.by_opening(Priced(World(self, name), self.terms), all_of_them=True))
        first, second = costs(plan), costs(other)
        marks = [row.mark for row in self.rows["opening"]]
        return World(self, MIXED, {mark: plan if first[mark] < second[mark] * share else other for mark in marks})

    def version(self, world):
        values, reasons = [], []
        for definition in self.definitions:
            if not definition.counts:
                continue
            rows = self.rows["job" if definition.grain == "const" else definition.grain]
            found = [[row.mark, word(world.value(definition, row))] for row in rows]
            values.append([definition.name, UNIT_OF_KIND.get(definition.unit, ""), found])
            if definition in self.fates:
                reasons.append([definition.name, [[row.mark, world.reason(definition, row)] for row in rows]])
        priced = Priced(world, self.terms)
        return {
            "alternate": world.alternate,
            "values": values,
            "reasons": reasons,
            "bought": [[n] + [word(x) for x in amounts] for n, *amounts in priced.bought],
            "lines": [
                [l["resource"], l["phase"], word(l["quantity"]), word(l["exact"]), l["cents"]]
                for l in priced.lines
            ],
            "by_phase": sorted([p, c] for p, c in priced.by_phase.items() if c),
            "by_wing": sorted([w or "", c] for w, c in priced.by_wing.items() if c),
            "by_opening": self.by_opening(priced),
            "spread": [
                sorted([key if isinstance(key, str) else key.mark if key else "", cents] for key, cents in priced.spread[by].items() if cents)
                for by in ("phase", "wing", "opening")
            ],
            "charges": [[c["name"], c["cents"]] for c in priced.charges],
            "grand": int(priced.grand),
        }

    def by_opening(self, priced, all_of_them=False):
        marks = [(o.mark if o else "", o) for o in self.rows["opening"] + [None]]
        sums = [[mark, sum(line["opening"][o] for line in priced.parts_of_line)] for mark, o in marks]
        return sorted(s for s in sums if s[1] or all_of_them)

    def handed_over(self):
        return {"files": self.files(), "versions": self.versions}


def word(value):
    if value is None:
        return "absent"
    if value is True or value is False:
        return "yes" if value else "no"
    if isinstance(value, str):
        return "=" + value
    value = Fraction(value)
    return f"{value.numerator}/{value.denominator}"
