#!/usr/bin/env python3
"""How the time of the whole process grows with rows, with rules, with alternates and with the length of a sheet.

    cargo build --release --locked
    python3 benches/compare/growth.py target/release/ovolo [repeats]

Writes its sheets and surveys in a folder of its own that it takes away again. The rules are those of `support/sash.ovo`,
repeated with their names numbered; the survey, the givens and the table stand once. Each copy reads sizes a sixteenth larger
than the one before, since equal rules are worked once, and ends in a line that is bought, so that all of it is worked. Each figure is the quickest of the repeats, taken in turn.
"""
import os
import random
import re
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

SASH = (Path(__file__).parent.parent / "support" / "sash.ovo").read_text()
EXACT = Path(__file__).parent / "exact.py"
PRICES = "resource,unit,price\nline,cent,0.01\n"
CHANGED = ["putty_price to 8 USD per lb", "paint_price to 64 USD per gal", "joiner_rate to 70 USD per h", "waste to 30 %"]


def rules(copies):
    """The sheet with its rules for each opening so many times."""
    head, rest = SASH.split("for each opening {\n")
    body = rest.split("\n}\n")[0]
    names = re.findall(r"^  (?:decide )?(\w+) +(?:=|of)", body, re.M)
    numbered = re.compile(r"\b(" + "|".join(names) + r")\b")
    head = head.replace("lite, point\n", "lite, point, cent\nresource line other cent\n")
    blocks = []
    for copy in range(copies):
        text = numbered.sub(rf"\g<1>_{copy}", body)
        if copy:
            text = re.sub(r"\b(wide|high)\b", rf"(\1 + {copy}/16 in)", text)
        take = f"  take line  line_total_{copy} / (0.01 USD per cent) rounded half up to 1 cent  for \"Work\""
        blocks.append(f"for each opening {{\n{text}\n{take}\n}}\n")
    return head + "\n".join(blocks)


def survey(rows):
    """Openings of the form that the benches make; these need not be the same ones."""
    chance = random.Random(7)
    lines = ["mark,wing,kind,wide,high,across,down,thick,rail_rot,cracked,leaded"]
    for row in range(rows):
        kind = chance.choice(["single", "pair", "hung"])
        wide, high = chance.randint(40 * 16, 80 * 16) / 16, chance.randint(48 * 16, 110 * 16) / 16
        thick, leaded = chance.choice(["1.375", "1.75", "2.25"]), chance.choice(["yes", "no"])
        wing = chance.choice(["north", "east", "south", "west"])
        sizes = f"{wide},{high},{chance.randint(1, 3)},{chance.randint(1, 4)},{thick}"
        lines.append(f"W{row},{wing},{kind},{sizes},{chance.randint(0, 75)}%,{chance.randint(0, 4)},{leaded}")
    return "\n".join(lines) + "\n"


def job(sheet, openings, alternates=0):
    """A job sheet over a sheet and a survey, with alternates that each change one given."""
    text = f'sheet "Growth" layer job\nuse "{sheet}"\n\njob {{\n  survey opening from "{openings}"\n'
    text += '  prices from "prices.csv"\n  money USD\n  ties half up\n  split by wing\n  round money each line\n}\n'
    for at in range(alternates):
        text += f'\nalternate "No. {at + 1}" {{\n  change {CHANGED[at]}  because "to see what it does"\n}}\n'
    return text


def used():
    """Seconds of processor that the processes waited for have taken."""
    children = resource.getrusage(resource.RUSAGE_CHILDREN)
    return children.ru_utime + children.ru_stime


class Bench:
    """Pieces of work by name, each timed in turn and the quickest kept."""

    def __init__(self, repeats):
        self.repeats, self.work, self.took = repeats, {}, {}

    def add(self, name, *command):
        self.work[name] = [str(part) for part in command]

    def run(self):
        for _ in range(self.repeats):
            for name, command in self.work.items():
                start, before = time.perf_counter(), used()
                done = subprocess.run(command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True)
                if done.returncode:
                    raise SystemExit(f"{' '.join(command)}\n{done.stderr}")
                now = (time.perf_counter() - start, used() - before)
                self.took[name] = tuple(map(min, self.took.get(name, now), now))
        for name, (wall, cpu) in self.took.items():
            print(f"{name:44} {wall * 1e3:>9.1f} ms {cpu * 1e3:>8.0f} ms of CPU")

    def ratio(self, what, more, less):
        (wall, cpu), (wall_less, cpu_less) = self.took[more], self.took[less]
        print(f"{what:44} x {wall / wall_less:.2f}, of CPU x {cpu / cpu_less:.2f}")


def main():
    if len(sys.argv) < 2:
        raise SystemExit(__doc__)
    ovolo, repeats = Path(sys.argv[1]).resolve(), int(sys.argv[2]) if len(sys.argv) > 2 else 5
    with tempfile.TemporaryDirectory() as folder:
        os.chdir(folder)
        Path("prices.csv").write_text(PRICES)
        for rows in (1_000, 2_000, 10_000, 20_000, 100_000, 200_000):
            Path(f"s{rows}.csv").write_text(survey(rows))
        for copies in (1, 10):
            Path(f"r{copies}.ovo").write_text(rules(copies))
            for rows in (1_000, 2_000, 10_000, 20_000, 100_000, 200_000):
                Path(f"j{copies}-{rows}.ovo").write_text(job(f"r{copies}.ovo", f"s{rows}.csv"))
        for alternates in (1, 4):
            Path(f"a{alternates}.ovo").write_text(job("r1.ovo", "s20000.csv", alternates))
        copies = next(n for n in range(1, 5_000) if rules(n).count("\n") >= 5_000)
        lines = rules(copies).count("\n")
        Path("long.ovo").write_text(rules(copies))
        Path("half.ovo").write_text(rules(copies // 2))

        bench = Bench(repeats)
        for rows in (1_000, 2_000, 10_000, 20_000, 100_000, 200_000):
            bench.add(f"estimate, {rows} rows x 40 rules", ovolo, "estimate", f"j1-{rows}.ovo", "--csv", "totals")
        for rows in (1_000, 20_000):
            bench.add(f"estimate, {rows} rows x 400 rules", ovolo, "estimate", f"j10-{rows}.ovo", "--csv", "totals")
        for alternates, sheet in ((0, "j1-20000.ovo"), (1, "a1.ovo"), (4, "a4.ovo")):
            bench.add(f"weigh, 20000 rows, {alternates} alternates", ovolo, "weigh", sheet)
        bench.add(f"proof, {lines} lines", ovolo, "proof", "long.ovo")
        bench.add("proof, half of them", ovolo, "proof", "half.ovo")
        bench.add("a Python decimal script, 1000 rows", sys.executable, EXACT, "s1000.csv", "--decimal")
        bench.run()
        print()
        for less in (1_000, 2_000, 10_000, 20_000):
            bench.ratio(f"rows x 10, from {less}", f"estimate, {less * 10} rows x 40 rules", f"estimate, {less} rows x 40 rules")
        for rows in (1_000, 20_000):
            bench.ratio(f"rules x 10, {rows} rows", f"estimate, {rows} rows x 400 rules", f"estimate, {rows} rows x 40 rules")
        for alternates in (1, 4):
            bench.ratio(f"{alternates} alternates", f"weigh, 20000 rows, {alternates} alternates", "weigh, 20000 rows, 0 alternates")
        bench.ratio("a sheet twice as long, proof", f"proof, {lines} lines", "proof, half of them")
        os.chdir("/")


if __name__ == "__main__":
    main()
