#!/usr/bin/env python3
"""The forty rules of `support/sash.ovo` over a data frame (Polars), totals by wing.

    pip install polars        # in an environment outside the tree
    POLARS_MAX_THREADS=2 python3 frame.py SASH.csv [--float] [--against TOTAL]

Columns are Decimal(38, 18): a product or a quotient is rounded at the eighteenth decimal, whatever the operands. These
rules fit into that, and each amount is divided last; a half cent ends within it, so it is met exactly.
`--float` works over Float64, the library's own number. `--against` tells how many cents the total is off ovolo's.
"""
import argparse
import time
from decimal import Decimal

import polars as pl


def rules(survey, wide_number, literal):
    """The frame of line totals; each step reads the columns of those before it, names as in the sheet."""
    n, c = literal, pl.col
    number = lambda name: c(name).cast(pl.Int64).cast(wide_number)
    cents = lambda amount: amount.round(2, mode="half_away_from_zero")
    either = lambda test, yes, no: pl.when(test).then(yes).otherwise(no)
    frame = pl.scan_csv(survey, infer_schema=False)
    frame = frame.select(
        "wing", "kind",
        *(c(name).cast(wide_number) for name in ("wide", "high", "thick")),
        *(number(name) for name in ("across", "down", "cracked")),
        rail_rot=c("rail_rot").str.strip_suffix("%").cast(wide_number) * n("0.01"),
        leaded=c("leaded") == "yes",
    )
    frame = frame.with_columns(
        sashes=either(c("kind") == "single", n("1"), n("2")),
        sash_w=either(c("kind") == "pair", c("wide") * n("0.5"), c("wide")),
        sash_h=either(c("kind") == "hung", c("high") * n("0.5"), c("high")),
    )
    clear_w = c("sash_w") - n("4") - (c("across") - n("1")) * n("0.875")
    clear_h = c("sash_h") - n("5") - (c("down") - n("1")) * n("0.875")
    frame = frame.with_columns(
        lite_w=(clear_w * n("16") / c("across")).floor() * n("0.0625"),
        lite_h=(clear_h * n("16") / c("down")).floor() * n("0.0625"),
        lites=c("sashes") * c("across") * c("down"),
        face=c("sashes") * c("sash_w") * c("sash_h"),
        stiles=c("sashes") * n("4") * c("sash_h") * c("thick"),
        rails=c("sashes") * c("sash_w") * n("5") * c("thick"),
        bars=c("sashes") * ((c("across") - n("1")) * c("sash_h") + (c("down") - n("1")) * c("sash_w")) * n("0.875") * c("thick"),
        retain=(c("rail_rot") < n("0.1")) & (c("cracked") == n("0")),
        renew=c("rail_rot") > n("0.5"),
    )
    frame = frame.with_columns(
        pane=c("lite_w") * c("lite_h"),
        edge=c("lites") * n("2") * (c("lite_w") + c("lite_h")),
        mend=~c("retain") & ~c("renew"),
        part=either(c("rail_rot") * n("1.5") > n("1"), n("1"), c("rail_rot") * n("1.5")),
        few=either(c("lites") < c("cracked") * n("2"), c("lites"), c("cracked") * n("2")),
    )
    bare = c("face") - c("lites") * c("pane")
    frame = frame.with_columns(
        points=(c("edge") / n("4")).ceil(),
        share=either(c("retain"), n("0"), either(c("renew"), n("1"), c("part"))),
        pace=either(c("pane") < n("72"), n("12"), either(c("pane") < n("144"), n("18"), either(
            c("pane") < n("288"), n("24"), either(c("pane") < n("432"), n("31"), n("40"))))),
        reglaze=either(c("renew"), c("lites"), c("few")),
        painted=either(bare > n("0"), bare, n("0")) * n("2"),
        strip_time=c("face") * n("0.035") * either(~c("renew") & c("leaded"), n("1.5"), n("1")),
    )
    stock = (c("stiles") + c("rails") + c("bars")) * n("1.35") * c("share")
    make_time = either(c("renew"), c("face") * n("0.9"), n("0"))
    mend_time = either(c("mend"), c("sashes") * n("38") * (n("1") + c("share")), n("0"))
    work = (
        cents((make_time + mend_time) * n("64.50") / n("60"))
        + cents(c("reglaze") * c("pace") * n("58.25") / n("60"))
        + cents((c("strip_time") + c("painted") * n("0.025")) * n("47.75") / n("60"))
    )
    materials = (
        cents(stock * n("11.80") / n("144"))
        + cents(c("reglaze") * c("pane") * n("14.35") / n("144"))
        + cents(c("points") * n("0.035"))
        + cents(c("edge") * n("0.0625") * n("0.07") * n("7.90"))
        + cents(c("painted") * n("62.40") / n("50400"))
    )
    return frame.select("wing", line_total=cents((work + cents(materials * n("1.0625"))) * n("1.125")))


def main():
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("survey")
    ask.add_argument("--float", action="store_true")
    ask.add_argument("--against", type=Decimal)
    said = ask.parse_args()
    if said.float:
        number, literal = pl.Float64, lambda text: pl.lit(float(text))
    else:
        number = pl.Decimal(38, 18)
        literal = lambda text: pl.lit(Decimal(text)).cast(number)
    start = time.perf_counter()
    wings = rules(said.survey, number, literal).group_by("wing").agg(pl.col("line_total").sum()).sort("wing").collect()
    took = time.perf_counter() - start
    cent = Decimal("0.01")
    for wing, total in wings.iter_rows():
        print(f"{wing:6} {Decimal(total).quantize(cent):>16}")
    total = sum(Decimal(total) for total in wings["line_total"]).quantize(cent)
    print(f"all    {total:>16} USD  {took * 1e3:.0f} ms")
    if said.against:
        print(f"the engine's {said.against}: {(total - said.against) * 100:+.0f} cents")


if __name__ == "__main__":
    main()
