#!/usr/bin/env python3
"""Processor and memory of a take-off with money rounded each line and each opening, whole process.

    cargo build --release --locked
    python3 benches/compare/each_opening.py target/release/ovolo SURVEY.csv [repeats]

SURVEY.csv is one that the bench `handwritten sash` made, so that its figures stand beside these. Writes its sheets in a folder
of its own that it takes away again. The rules are those of `support/sash.ovo`; what they price by hand is taken here.
"""
import os
import subprocess
import sys
import tempfile
from pathlib import Path

SASH = (Path(__file__).parent.parent / "support" / "sash.ovo").read_text()
BOUGHT = [  # resource, class, unit, price, amount
    ("joiner", "labor", "h", "64.50", "make_time + mend_time"),
    ("glazier", "labor", "h", "58.25", "glaze_time"),
    ("painter", "labor", "h", "47.75", "strip_time + paint_time"),
    ("pine", "stock", "bf", "11.80", "stock"),
    ("pane_glass", "glass", "sq ft", "14.35", "reglaze * (pane per lite)"),
    ("putty_lb", "putty", "lb", "7.90", "putty"),
    ("paint_can", "other", "gal", "62.40", "paint"),
]


def sheets(survey):
    """Rules, prices, and a job for each way to round."""
    kept = [line for line in SASH.split("\n") if not any(word in line for word in ("_cost", "materials", "taxed", "line_total"))]
    text = "\n".join(kept)
    for name, kind, unit, _, _ in BOUGHT:
        text = text.replace("\nfor each opening {", f"\nresource {name} {kind} {unit}\n\nfor each opening {{", 1)
    takes = "".join(f'  take {name} {amount} for "Work"\n' for name, _, _, _, amount in BOUGHT)
    text = text.replace("\n}\n\nfor each wing_part", f"\n{takes}}}\n\nfor each wing_part")
    Path("rules.ovo").write_text(text)
    rows = "".join(f"{name},{unit},{price}\n" for name, _, unit, price, _ in BOUGHT)
    Path("prices.csv").write_text("resource,unit,price\n" + rows)
    for way in ("line", "opening"):
        Path(f"{way}.ovo").write_text(
            f'sheet "Speed" layer job\nuse "rules.ovo"\n\njob {{\n  survey opening from "{survey}"\n  prices from "prices.csv"\n'
            f"  money USD\n  ties half up\n  split by wing\n  round money each {way}\n}}\n"
        )


def main():
    if len(sys.argv) < 3:
        raise SystemExit(__doc__)
    ovolo, survey = Path(sys.argv[1]).resolve(), Path(sys.argv[2]).resolve()
    repeats = int(sys.argv[3]) if len(sys.argv) > 3 else 3
    with tempfile.TemporaryDirectory() as folder:
        os.chdir(folder)
        os.symlink(survey, "openings.csv")
        sheets("openings.csv")
        took = {}
        for _ in range(repeats):
            for way in ("line", "opening"):
                child = subprocess.Popen([ovolo, "estimate", f"{way}.ovo", "--csv", "totals"], stdout=subprocess.DEVNULL)
                _, status, used = os.wait4(child.pid, 0)
                child.returncode = os.waitstatus_to_exitcode(status)
                if child.returncode:
                    raise SystemExit(f"{way}: exit {child.returncode}")
                now = (used.ru_utime + used.ru_stime, used.ru_maxrss / 1024)
                took[way] = tuple(map(min, took.get(way, now), now))
        for way, (seconds, megabytes) in took.items():
            print(f"round money each {way:8} {seconds * 1e3:>8.0f} ms of processor, {megabytes:>5.0f} MB")
        os.chdir("/")


if __name__ == "__main__":
    main()
