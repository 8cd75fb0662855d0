#!/usr/bin/env python3
"""Measures everything here in one session, in turn, the quickest of several, and prints the table of `../README.md`.

    cargo bench --no-run                                            # tells where `speed` and `handwritten` are
    cargo build --release --locked                                  # the process
    cargo build --release --manifest-path benches/compare/engines/Cargo.toml
    PYTHON benches/compare/measure.py SPEED HANDWRITTEN OVOLO ENGINES target/tmp [repeats]

PYTHON is one that has duckdb and polars. Time is from the file to the totals as each tells it itself, but the whole process
for `ovolo estimate`; memory is the most that the process held. A ratio is to the program by hand on the same rows.
"""
import os
import re
import subprocess
import sys
import tempfile
import time
from decimal import Decimal
from pathlib import Path

import growth

HERE = Path(__file__).parent


def run(command):
    """Output, seconds and peak megabytes of a process."""
    with tempfile.TemporaryFile("w+") as out:
        start = time.perf_counter()
        child = subprocess.Popen([str(part) for part in command], stdout=out, env=os.environ | {"POLARS_MAX_THREADS": "2"})
        _, status, used = os.wait4(child.pid, 0)
        took = time.perf_counter() - start
        if status:
            raise SystemExit(f"{command} failed")
        out.seek(0)
        return out.read(), took, used.ru_maxrss / 1024


def by_speed(text, _):
    """Reading and sums; the peak is that of these, the bench goes on to other work."""
    figures = next(line for line in text.splitlines() if re.match(r"sash\s+\d", line))[5:].split()
    return float(figures[2]) + float(figures[3]), Decimal(re.search(r"all_total ([\d.]+)", text)[1]), float(figures[7])


def by_hand(text, _):
    return float(re.search(r"threads: ([\d.]+) ms", text)[1]), Decimal(re.search(r"all_total ([\d.]+)", text)[1])


def by_process(text, took):
    return took * 1e3, Decimal(re.search(r"^total,.*,([\d.]+)$", text, re.M)[1])


def by_script(text, _):
    line = next(line for line in text.splitlines() if line.startswith("all "))
    return float(re.findall(r"([\d.]+) ms", line)[-1]), Decimal(line.split()[1])


def main():
    if len(sys.argv) < 6:
        raise SystemExit(__doc__)
    speed, hand, ovolo, engines, surveys = (Path(part).resolve() for part in sys.argv[1:6])
    repeats = int(sys.argv[6]) if len(sys.argv) > 6 else 3
    with tempfile.TemporaryDirectory() as folder:
        folder = Path(folder)
        (folder / "prices.csv").write_text(growth.PRICES)
        (folder / "sash.ovo").write_text(growth.rules(1))
        work = []
        for rows in (1_000_000, 100_000):
            survey = surveys / f"sash-{rows}.csv"
            (folder / f"job-{rows}.ovo").write_text(growth.job("sash.ovo", survey))
            script = lambda name, *more: [sys.executable, HERE / name, survey, *more]
            work += [
                (rows, "by hand over `rust_decimal`", by_hand, [hand, "sash", rows, 2]),
                (rows, "ovolo, reading and sums", by_speed, [speed, "sash", rows, 2, 1]),
                (rows, "ovolo, whole process", by_process, [ovolo, "estimate", folder / f"job-{rows}.ovo", "--csv", "totals"]),
                (rows, "SQL (DuckDB), quotients as they come", by_script, script("sql.py")),
                (rows, "SQL (DuckDB), remainders by hand", by_script, script("sql.py", "--exact")),
                (rows, "data frame (Polars), Decimal(38, 18)", by_script, script("frame.py")),
                (rows, "data frame (Polars), Float64", by_script, script("frame.py", "--float")),
            ]
            if rows == 100_000:
                work += [
                    (rows, "Rhai, 28-digit decimals", by_script, [engines, "rhai", survey]),
                    (rows, "Common Expression Language, floats", by_script, [engines, "cel", survey]),
                    (rows, "Python `decimal`, one thread", by_script, script("exact.py", "--decimal")),
                    (rows, "Python `fractions`, one thread", by_script, script("exact.py")),
                ]
        best = {}
        for _ in range(repeats):
            for rows, name, read, command in work:
                text, took, memory = run(command)
                milliseconds, total, *peak = read(text, took)
                memory = peak[0] if peak else memory
                before = best.get((rows, name), (milliseconds, memory, total))
                best[rows, name] = (min(before[0], milliseconds), min(before[1], memory), total)
        print("| rows | what | time | ratio | peak | cents off |\n|---|---|---|---|---|---|")
        for (rows, name), (milliseconds, memory, total) in best.items():
            base = best[rows, "by hand over `rust_decimal`"][0]
            off = (total - best[rows, "ovolo, reading and sums"][2]) * 100
            print(f"| {rows:,} | {name} | {milliseconds:,.0f} ms | {milliseconds / base:.2f} | {memory:.0f} MB | {off:+,.0f} |")


if __name__ == "__main__":
    main()
