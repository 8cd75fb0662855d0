"""Later layers and alternates of a made job: what they extend and change, as written and as it is to be worked."""

from fractions import Fraction

from formulas import F, constant, length
from working import LAYERS, Send, Stage, Take

REASONS = ["as found", "the shop's log", "seen twice", "by the drawings", "after the storm", "the owner asks"]
PEOPLE = ["R. Marsh", "I. Dell", "T. Okoro"]


class Changing:
    def reason(self):
        return self.dice.choice(REASONS) + f" {self.dice.randint(1, 999)}"

    def say(self, layer, line):
        if layer in self.text:
            self.text[layer].append(line)
        else:
            self.lines_of_alternate[layer].append("  " + line)

    def signed(self):
        dice = self.dice
        if dice.random() < 0.3:
            return dice.choice(PEOPLE), f"2026-0{dice.randint(1, 9)}-1{dice.randint(0, 9)}"
        return None

    def because(self):
        """A reason as written, as it is to be read, and who decided."""
        reason, by = self.reason(), self.signed()
        text = f'because "{reason}"' + (f' by "{by[0]}" on {by[1]}' if by else "")
        return text, reason, by

    def once(self, layer, what):
        key = (layer, what)
        if key in self.seen_changes:
            return False
        self.seen_changes.add(key)
        return True

    def later_layers(self):
        dice = self.dice
        self.extensions()
        text, _, _ = self.because()
        self.say("job", f"change reach to ladder {text}")
        text, _, _ = self.because()
        self.say("job", f"change ledge to 3 1/2 in {text}")
        if dice.random() < 0.5:
            answer = Fraction(dice.randint(1, 5))
            self.say("job", f'change storeys to {answer} because "counted"')
            self.storeys.stages.append(Stage("job", constant(answer)))
            self.seen_changes.add(("job", "storeys"))
        layers = ["shop", "job"] + self.alternates
        kinds = ["given", "rule", "decision", "row", "row", "price", "waste", "packs", "name", "resource", "phase", "limits"]
        for layer in layers:
            for _ in range(dice.randint(1, 5)):
                change = dice.choice(["rule", "decision"] if self.is_mixed(layer) else kinds)
                getattr(self, f"change_{change}")(layer)
        for name in [a for a in self.alternates if not self.lines_of_alternate[a]]:
            if self.is_mixed(name):
                self.change_decision(name)
                continue
            self.say(name, 'change wet to yes because "dry"')
            self.wet.stages.append(Stage(name, constant(True)))
        if dice.random() < 0.5:
            self.helper()

    def is_mixed(self, layer):
        """Whether it is a plan of the mixed one."""
        return self.mix is not None and layer in (self.mix[0], self.mix[2])

    def change_given(self, layer):
        dice = self.dice
        name = dice.choice(list(self.amounts_given))
        definition, value, limits = self.amounts_given[name]
        if limits or not self.once(layer, name):
            return
        new = Fraction(dice.randint(8, 80), 8)
        text, _, _ = self.because()
        is_first = len(definition.stages) == 1 and layer == "shop"
        was = f" was {length(value, dice)}" if is_first and dice.random() < 0.5 else ""
        if dice.random() < 0.3:
            self.say(layer, f"change {name} to {name} * 2 {text}")
            definition.stages.append(Stage(layer, lambda w, row, own: w.value(definition, row, own[1]) * 2))
        else:
            self.say(layer, f"change {name} to {length(new, dice)} {text}{was}")
            definition.stages.append(Stage(layer, constant(new)))

    def change_limits(self, layer):
        dice = self.dice
        limited = [n for n, g in self.amounts_given.items() if g[2]]
        if not limited:
            return
        name = dice.choice(limited)
        definition, value, _ = self.amounts_given[name]
        if len(definition.stages) > 1 or not self.once(layer, name):
            return
        text, _, _ = self.because()
        high = value * 8
        self.say(layer, f"change limits of {name} to between {length(value / 2, dice)} and {length(high, dice)} {text}")
        text, _, _ = self.because()
        self.say(layer, f"change {name} to {length(value * 5, dice)} {text}")
        definition.stages.append(Stage(layer, constant(value * 5)))

    def change_rule(self, layer):
        rules = [n for n in self.names_there if getattr(n[2], "changes", False)]
        if self.is_mixed(layer):
            # It is picked opening by opening, and so can't change what is one value for more than that.
            rules = [n for n in rules if n[2].grain in ("opening", "sash", "defect")]
        if not rules:
            return
        name, kind, definition, _ = self.dice.choice(rules)
        if not self.once(layer, name):
            return
        make = lambda: self.maker.make(definition.grain, kind, 2)
        made = self.at_stage(definition, make if definition.is_unsure else lambda: self.maker.sure(make))
        text, _, _ = self.because()
        self.say(layer, f"change {name} to {made.text} {text}")
        definition.stages.append(Stage(layer, made))

    def change_decision(self, layer):
        dice = self.dice
        definition = dice.choice(self.fates)
        if not self.once(layer, definition.name):
            return
        label = dice.choice(self.choices["treatment"])
        text, reason, _ = self.because()
        test = self.at_stage(definition, lambda: self.sure_test(definition.grain))
        if dice.random() < 0.2 and not definition.lacks_triple:
            self.say(layer, f"change {definition.name} to {label} {text}")
            definition.stages.append(Stage(layer, constant(label), reason=reason))
            return
        self.say(layer, f"change {definition.name} to if {test.text} then {label} else {definition.name} {text}")
        before = lambda w, row, own: w.value(definition, row, own[1])
        formula = lambda w, row, own: label if test(w, row, own) else before(w, row, own)
        definition.stages.append(Stage(layer, formula, reason=reason))

    def change_row(self, layer):
        dice = self.dice
        changeable = [n[2] for n in self.names_there if getattr(n[2], "changes", False) and n[2].grain in ("opening", "sash", "defect")]
        columns = [self.column[c] for c in self.column if c in ("across", "wide", "leaded", "sash across", "defect across", "stuck", "thick")]
        definition = dice.choice(changeable + self.fates + columns)
        rows = self.rows[definition.grain]
        # An alternate can't change what openings are grouped by.
        if not rows or (layer in self.alternates and definition.name in self.group_keys):
            return
        row = dice.choice(rows)
        if (definition.name, row.mark) in self.said_at:
            return
        self.said_at.add((definition.name, row.mark))
        text, reason, by = self.because()
        kind = definition.unit
        if kind == "length":
            value = Fraction(dice.randint(64, 800), 8)
            written = length(value, dice)
        elif kind == "truth":
            value = dice.choice([True, False])
            written = "yes" if value else "no"
        elif kind.startswith("label"):
            value = written = dice.choice(self.choices["treatment"])
        else:
            value = Fraction(dice.randint(1, 6))
            written = f"{value} min" if kind == "minutes" else str(value)
        was = ""
        if definition.name == "wide" and len(definition.stages) == 1 and dice.random() < 0.5:
            was = f" was {length(row.cells['wide'], dice)}"
        self.say(layer, f'change {definition.name} at "{row.mark}" to {written} {text}{was}')
        stage = next((s for s in definition.stages if s.layer == layer and s.marks), None)
        if stage is None:
            stage = Stage(layer, marks={}, reason={})
            definition.stages.append(stage)
        stage.marks[row.mark] = value
        stage.reason[row.mark] = reason + (f" (by {by[0]}, {by[1]})" if by else "")

    def change_price(self, layer):
        name, resource = self.dice.choice(list(self.terms.resources.items()))
        if self.once(layer, f"price of {name}"):
            price = Fraction(self.dice.randint(50, 9000), 100)
            text, _, _ = self.because()
            self.say(layer, f"change price of {name} to {float(price):.2f} USD per {resource.unit} {text}")
            resource.price.append(Stage(layer, constant(price)))

    def change_waste(self, layer):
        name, resource = self.dice.choice(list(self.terms.resources.items()))
        word = "waste" if resource.waste else "yield" if resource.gain else None
        if word and self.once(layer, f"waste of {name}"):
            share = self.dice.choice([5, 25, 40])
            text, _, _ = self.because()
            self.say(layer, f"change {word} of {name} to {share} % {text}")
            stages = resource.waste if word == "waste" else resource.gain
            stages.append(Stage(layer, constant(Fraction(share, 100))))

    def change_packs(self, layer):
        packed = [(n, r) for n, r in self.terms.resources.items() if r.packs]
        if packed:
            name, resource = self.dice.choice(packed)
            if self.once(layer, f"packs of {name}"):
                holds = self.dice.randint(2, 60)
                text, _, _ = self.because()
                self.say(layer, f"change packs of {name} to tubs of {holds} {resource.unit} {text}")
                resource.packs.append(Stage(layer, holds))

    def change_name(self, layer):
        name = self.dice.choice(list(self.terms.resources))
        if self.once(layer, f"name of {name}"):
            text, _, _ = self.because()
            self.say(layer, f'change name of {name} to "The {name} of {self.dice.randint(1, 99)}" {text}')

    def where(self):
        """A test that a take of an opening or of its sash can read."""
        wing, word = self.dice.choice(["North", "South"]), self.dice.choice(["is", "is not"])
        column = self.column["wing"]


        def work(w, row, own):
            row = w.finer(row, "opening")[0] if row.grain == "batch" else row
            return (w.read(column, row, own) == wing) == (word == "is")

        return F(f'wing {word} "{wing}"', "truth", work)

    def send(self, layer, word, resource, to):
        where = self.where() if self.dice.random() < 0.5 else None
        phase = self.dice.choice(self.terms.phases) if self.dice.random() < 0.4 else None
        to_resource, to_phase = (to, None) if word == "resource" else (None, to)
        send = Send(layer, resource, phase, where, to_resource, to_phase)
        if not self.all_fit(self.sends + [send]) or not self.once(layer, f"{word} of {resource}"):
            return
        self.sends.append(send)
        text, _, _ = self.because()
        line = f"change {word} of {resource}" + (f' for "{phase}"' if phase else "") + (f" where {where.text}" if where else "")
        self.say(layer, f"{line} to {to if word == 'resource' else chr(34) + to + chr(34)} {text}")

    def all_fit(self, sends):
        """Whether each finds a take in every version that has it."""
        for alternate in self.alternates or [None]:
            there = {(t.resource, t.phase, self.can_read_wing(t.grain)) for t in self.takes}
            for layer in LAYERS[:3] + [alternate]:
                for kind in ("to_resource", "to_phase"):
                    # A layer sends a take to one other resource: what it sent it does not send on.
                    before = set(there)
                    for send in [s for s in sends if s.layer == layer and getattr(s, kind)]:
                        fits = {
                            t
                            for t in before
                            if t[0] == send.resource and send.phase in (None, t[1]) and (send.where is None or t[2])
                        }
                        if not fits:
                            return False
                        if send.where is None:
                            there -= fits
                        there |= {(send.to_resource or r, send.to_phase or p, row) for r, p, row in fits}
        return True

    def change_resource(self, layer):
        declared = [("glazier", "second"), ("joiner", "second"), ("pine", "oak"), ("pane", "old_pane"), ("second", "third")]
        resource, to = self.dice.choice(declared)
        for name, kind, unit, base in [("second", "labor", "h", 60), ("third", "labor", "h", 60), ("oak", "stock", "bf", 144), ("old_pane", "glass", "sq ft", 144)]:
            if name not in self.terms.resources:
                self.resource(name, kind, unit, base)
        self.send(layer, "resource", resource, to)

    def change_phase(self, layer):
        self.send(layer, "phase", self.dice.choice(["glazier", "joiner", "pine"]), self.dice.choice(self.terms.phases))

    def can_read_wing(self, grain):
        return grain in ("opening", "sash", "defect") or (grain == "batch" and "wing" in self.group_keys)

    def feeds(self, resource):
        """Resources whose takes may end as a resource."""
        found = {resource}
        for _ in self.sends:
            found |= {s.resource for s in self.sends if s.to_resource in found}
        return found

    def helper(self):
        name = self.dice.choice(["glazier", "joiner"])
        share = Fraction(self.dice.choice([10, 25, 50]), 100)
        amount = F(f"taken of {name} * {share * 100} %", "minutes", lambda w, row, own: w.taken(name, row) * share)
        self.takes.append(Take("job", "helper", "Removal", amount))
        self.text["shop"] += ["for the job {", f'  take helper  {amount.text}  for "Removal"', "}"]

    def extensions(self):
        dice = self.dice
        self.headings = {c: c for c in ("mark", "wing", "kind", "wide", "high", "across", "leaded", "thick", "rot", "leaves", "pattern", "paint")}
        self.in_cm = False
        layer = dice.choice(["shop", "job"])
        if dice.random() < 0.6:
            text, _, _ = self.because()
            lines = [f"extend survey opening {text} {{"]
            self.in_cm = dice.random() < 0.5
            between = "  between 5 in and 30 ft  was between 6 in and 10 ft" if dice.random() < 0.5 else ""
            lines.append(f'  wide{"  in cm" if self.in_cm else ""}{between}  headed "Width of frame"')
            lines += ['  across  headed "Lites across"', '  ladder  length in in  if blank 3 in  headed "Ladder"', "}"]
            self.text[layer] += lines
            self.headings["wide"], self.headings["across"] = "Width of frame", dice.choice(["Lites across", "across"])
            self.headings["ladder"] = "Ladder"
            for row in self.rows["opening"]:
                row.cells["ladder"] = Fraction(dice.randint(8, 80), 4) if dice.random() < 0.6 else Fraction(3)
            self.define("opening", "ladder", "length", lambda w, row, own: row.cells["ladder"], counts=False)
            self.maker.is_unsure = False
            made = self.maker.make("opening", "length", 2)
            self.text[layer] += ["for each opening {", f"  own_rule = {made.text} + ladder", "}"]
            ladder = self.definitions[-1]

            def work(w, row, own):
                value = made(w, row, own)
                return None if value is None else value + w.read(ladder, row, own)

            self.define("opening", "own_rule", "length", work)
        if self.is_extended:
            text, _, _ = self.because()
            self.text[layer] += [f"extend choice kind {text} {{", '  triple ("T", "three panels")', '  pair ("double")', "}"]
            self.choices["kind"].append("triple")
            self.spellings["triple"], self.spellings["pair"] = "T", "double"
            if self.has_sash and not self.from_count:
                self.text[layer] += [f"extend choice place {text} {{", '  middle ("M")', "}"]
                self.text[layer] += [f"extend rows sash {text} {{", "  triple: left, middle, right", "}"]
                self.choices["place"].append("middle")
                self.codes["middle"] = "M"
            for definition in [d for d in self.fates if d.lacks_triple]:
                self.seen_changes.add((layer, definition.name))
                text, reason, _ = self.because()
                self.say(layer, f"change {definition.name} to choose kind {{ triple: mend   otherwise: {definition.name} }} {text}")
                definition.stages.append(Stage(layer, self.answered(definition), reason=reason))
        if dice.random() < 0.6:
            text, _, _ = self.because()
            new, pace = [Fraction(dice.randint(1, 50)) for _ in range(2)], Fraction(dice.randint(1, 50))
            lines = [f"extend table pace_of {text} {{", "  take out 72 and over", f"  add 72 to 90 | {new[0]}", f"  add 90 and over | {new[1]}"]
            was = f"  was {self.bands[0][2]}" if dice.random() < 0.5 else ""
            self.text[layer] += lines + [f"  change 0 to 30 | {pace}{was}", "}"]
            self.bands[0][2] = pace
            self.bands[2:] = [[Fraction(72), Fraction(90), new[0]], [Fraction(90), None, new[1]]]

    def answered(self, definition):
        kind = self.column["kind"]

        def work(w, row, own):
            if w.read(kind, row, None) == "triple":
                return "mend"
            return w.value(definition, row, own[1])

        return work
