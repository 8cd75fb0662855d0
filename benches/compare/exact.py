#!/usr/bin/env python3
"""The forty rules of `support/sash.ovo` over exact fractions, row by row: the reference the other scripts are held against.

    python3 exact.py SASH.csv [--job TOTAL] [--row MARK] [--decimal]

Totals by wing and the sum of the job. With `--job` (the `all_total` that `cargo bench --bench speed -- sash ROWS`
prints) the difference is told in cents and the script fails if there is any. With `--row` the costs of one row that
are divided are worked three ways. With `--decimal` the same rules run over Python's 28-digit decimals, where a quotient is rounded.
"""
import argparse
import csv
import time
from collections import defaultdict
from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_UP, Decimal
from fractions import Fraction


def rules(n, floor, ceiling, cents, row):
    """The line total, and the glazing time and painted area, of one row; `n` makes a number of a text."""
    kind, wide, high = row["kind"], n(row["wide"]), n(row["high"])
    across, down, thick = n(row["across"]), n(row["down"]), n(row["thick"])
    rail_rot, cracked = n(row["rail_rot"].rstrip("%")) / 100, n(row["cracked"])
    bar_face, sixteen = n("0.875"), 16
    sashes = 1 if kind == "single" else 2
    sash_w = wide / 2 if kind == "pair" else wide
    sash_h = high / 2 if kind == "hung" else high
    lite_w = floor((sash_w - 2 * 2 - (across - 1) * bar_face) / across * sixteen) / n("16")
    lite_h = floor((sash_h - 2 - 3 - (down - 1) * bar_face) / down * sixteen) / n("16")
    lites = sashes * across * down
    pane = lite_w * lite_h
    glass = lites * pane
    edge = lites * 2 * (lite_w + lite_h)
    points = ceiling(edge / 4)
    putty = edge * n("0.0625") * n("0.07")
    stiles = sashes * 2 * sash_h * 2 * thick
    rails = sashes * sash_w * (2 + 3) * thick
    bars = sashes * ((across - 1) * sash_h + (down - 1) * sash_w) * bar_face * thick
    whole_stock = (stiles + rails + bars) * n("1.35")
    if rail_rot < n("0.1") and cracked == 0:
        fate, share = "retain", n("0")
    elif rail_rot > n("0.5"):
        fate, share = "renew", n("1")
    else:
        fate, share = "mend", min(rail_rot * 3 / 2, n("1"))
    stock = whole_stock * share
    pace = 12 if pane < 72 else 18 if pane < 144 else 24 if pane < 288 else 31 if pane < 432 else 40
    reglaze = lites if fate == "renew" else min(lites, cracked * 2)
    glaze_time = reglaze * pace
    face = sashes * sash_w * sash_h
    make_time = face * n("0.9") if fate == "renew" else n("0")
    mend_time = sashes * 38 * (1 + share) if fate == "mend" else n("0")
    strip_time = face * n("0.035") * (n("1.5") if fate != "renew" and row["leaded"] == "yes" else 1)
    painted = max(face - glass, n("0")) * 2
    paint_time = painted * n("0.0125") * 2
    paint = painted / (350 * 144)
    work = (
        cents((make_time + mend_time) * n("64.50") / 60)
        + cents(glaze_time * n("58.25") / 60)
        + cents((strip_time + paint_time) * n("47.75") / 60)
    )
    materials = (
        cents(stock * n("11.80") / 144)
        + cents(reglaze * pane * n("14.35") / 144)
        + cents(points * n("0.035"))
        + cents(putty * n("7.90"))
        + cents(paint * n("62.40"))
    )
    taxed = cents(materials * n("1.0625"))
    return cents((work + taxed) * n("1.125")), (glaze_time, painted)


KNOWN = {}


def fraction(text):
    """A fraction of a text, each text read once."""
    if text not in KNOWN:
        KNOWN[text] = Fraction(text)
    return KNOWN[text]


def half_up(amount):
    """A fraction of a dollar to the cent, a tie away from zero; no amount here is below zero."""
    return Fraction((amount.numerator * 200 + amount.denominator) // (2 * amount.denominator), 100)


EXACT = (fraction, lambda x: Fraction(x.numerator // x.denominator), lambda x: -((-x.numerator) // x.denominator), half_up)
DECIMAL = (
    Decimal,
    lambda x: x.to_integral_value(ROUND_FLOOR),
    lambda x: x.to_integral_value(ROUND_CEILING),
    lambda x: x.quantize(Decimal("0.01"), ROUND_HALF_UP),
)


def main():
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("survey")
    ask.add_argument("--job")
    ask.add_argument("--row")
    ask.add_argument("--decimal", action="store_true")
    said = ask.parse_args()
    numbers = DECIMAL if said.decimal else EXACT
    start = time.perf_counter()
    wings = defaultdict(int)
    with open(said.survey, newline="") as file:
        for row in csv.DictReader(file):
            if said.row == row["mark"]:
                show(row)
            wings[row["wing"]] += rules(*numbers, row)[0]
    took = time.perf_counter() - start
    for wing in sorted(wings):
        print(f"{wing:6} {float(wings[wing]):>16.2f}")
    total = sum(wings.values())
    print(f"all    {float(total):>16.2f} USD  {took * 1e3:.0f} ms")
    if said.job:
        off = (total - numbers[0](said.job)) * 100
        print(f"the engine's {said.job}: {off} cents off")
        raise SystemExit(off != 0)


def show(row):
    """Two costs of one row: exact, by 28 digits dividing before multiplying, by binary floating point."""
    exact, digits = rules(*EXACT, row)[1], rules(*DECIMAL, row)[1]
    for what, at, rate, divisor in (("min of glazing", 0, "58.25", 60), ("sq in painted", 1, "62.40", 350 * 144)):
        amount = exact[at] * Fraction(rate) / divisor
        by_decimal = digits[at] / divisor * Decimal(rate)
        by_float = float(exact[at]) * float(rate) / divisor
        print(f"{row['mark']}: {exact[at]} {what} x {rate} USD / {divisor} = {amount} USD, exactly")
        print(f"  exact    {float(half_up(amount)):.2f}")
        print(f"  decimal  {by_decimal.quantize(Decimal('0.01'), ROUND_HALF_UP)}  from {by_decimal}")
        print(f"  float    {round(by_float, 2):.2f}  from {Decimal(by_float)}")


if __name__ == "__main__":
    main()
