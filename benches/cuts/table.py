#!/usr/bin/env python3
"""The table of cut plans in `../README.md`, each case a process of its own.

    cargo test --locked --bench cuts -- --write target/tmp/cuts     # the made problems as instance files
    cargo build --release --locked
    benches/cuts/table.py target/release/ovolo FILE.json...

Each file is solved with one, two and four threads: the plans must be the same bytes, and the plan is read, cut again and its bound
proved by a further process. Seconds are of processor and memory is the most that a process held, both as `/usr/bin/time` tells them, of the
run with two threads. Glass and single sheets are cut in two stages and in three. It fails where a plan differs, is refused or costs more than
the greedy one.
"""
import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path

THREADS = ("1", "2", "4")


def run(command, threads="2"):
    """Output, processor seconds, peak megabytes."""
    with tempfile.NamedTemporaryFile("r") as used:
        timed = ["/usr/bin/time", "-f", "%U %S %M", "-o", used.name] + [str(part) for part in command]
        done = subprocess.run(timed, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
                              env=os.environ | {"RAYON_NUM_THREADS": threads})
        if done.returncode:
            raise SystemExit(f"{command} failed: {done.stderr}")
        user, system, kilobytes = used.read().split()
        return done.stdout, float(user) + float(system), int(kilobytes) / 1024


def line(case, stages, found, seconds, memory, ways=""):
    greedy, plan, bound = found
    gap = abs(plan - bound) * 100 / bound if bound else 0.0
    print(f"| {case} | {stages} | {greedy} | {plan} | {bound} | {gap:.2f} % | {ways} | {seconds:.2f} | {memory:.0f} |", flush=True)


def plans(ovolo, file, stages):
    """A plan that is written: solved by each number of threads, then checked."""
    found, texts = None, []
    with tempfile.TemporaryDirectory() as folder:
        plan = Path(folder) / "plan.json"
        asked = [ovolo, "cut", "--instance", file, "--json"] + stages
        for threads in THREADS:
            text, seconds, memory = run(asked + ["-o", plan], threads)
            texts.append(plan.read_bytes())
            if threads == "2":
                found = json.loads(text), seconds, memory
        if len(set(texts)) > 1:
            raise SystemExit(f"{file}: the plans differ")
        run(asked + ["--check", plan])
    out, seconds, memory = found
    if out["cost"] > out["greedy"]:
        raise SystemExit(f"{file}: greedy is better")
    return (out["greedy"], out["cost"], out["bound"]), seconds, memory, out["patterns"]


def main():
    if len(sys.argv) < 3:
        raise SystemExit(__doc__)
    ovolo, files = sys.argv[1], [Path(name) for name in sys.argv[2:]]
    print("| case | stages | greedy | plan | bound | gap | ways of cutting | s | MB |\n|---|---|---|---|---|---|---|---|---|")
    for file in files:
        problem = json.loads(file.read_text())
        kind = problem["kind"]
        if kind == "guillotine-one-sheet":
            for turn in (False, True):
                with tempfile.NamedTemporaryFile("w", suffix=".json") as turned:
                    json.dump(problem | {"may_turn": turn}, turned)
                    turned.flush()
                    for stages in ("2", "3"):
                        text, seconds, memory = run([ovolo, "cut", "--instance", turned.name, "--json", "--stages", stages])
                        out = json.loads(text)
                        name = file.stem + (", turned" if turn else "")
                        line(name, stages, (out["one_size_alone"], out["worth"], out["bound"]), seconds, memory)
        elif kind == "glass":
            for stages in ("2", "3"):
                line(file.stem, stages, *plans(ovolo, file, ["--stages", stages]))
        else:
            line(file.stem, {"1d": 1, "boards": 3}[kind], *plans(ovolo, file, []))


main()
