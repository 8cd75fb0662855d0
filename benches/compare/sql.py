#!/usr/bin/env python3
"""The forty rules of `support/sash.ovo` in SQL over an in-memory engine (DuckDB), totals by wing.

    pip install duckdb        # in an environment outside the tree
    python3 sql.py SASH.csv [--threads 2] [--against TOTAL] [--exact]

Quantities are DECIMAL: sums and products are exact. A quotient is not: `/` gives a DOUBLE, whatever its operands, and a
DOUBLE does not hold most half cents. `--exact` takes the remainder off before it divides, which one must know to do,
for each amount, after fitting every product into 38 digits by hand. `--against` tells how many cents the total is off
ovolo's, and how many single amounts.
"""
import argparse
import time
from decimal import Decimal

import duckdb

READ = """
create table opening as select * from read_csv(?, header = true, columns = {
  'mark': 'VARCHAR', 'wing': 'VARCHAR', 'kind': 'VARCHAR', 'wide': 'DECIMAL(9,4)', 'high': 'DECIMAL(9,4)',
  'across': 'INTEGER', 'down': 'INTEGER', 'thick': 'DECIMAL(5,3)', 'rail_rot': 'VARCHAR', 'cracked': 'INTEGER',
  'leaded': 'VARCHAR'})
"""

# One SELECT for each step that others read; names as in the sheet.
RULES = """
with a as (
  select wing, kind, across, down, thick, cracked, leaded = 'yes' as leaded,
    cast(replace(rail_rot, '%', '') as DECIMAL(5,2)) * 0.01 as rail_rot,
    case kind when 'single' then 1 else 2 end as sashes,
    cast(case kind when 'pair' then wide * 0.5 else wide end as DECIMAL(9,5)) as sash_w,
    cast(case kind when 'hung' then high * 0.5 else high end as DECIMAL(9,5)) as sash_h
  from opening
), b as (
  -- Down to a sixteenth: a whole quotient of whole numbers, in hundred-thousandths.
  select *,
    (cast((sash_w - 4 - (across - 1) * 0.875) * 1600000 as BIGINT) // (across * 100000)) * 0.0625 as lite_w,
    (cast((sash_h - 5 - (down - 1) * 0.875) * 1600000 as BIGINT) // (down * 100000)) * 0.0625 as lite_h,
    sashes * across * down as lites
  from a
), c as (
  select *,
    cast(lite_w * lite_h as DECIMAL(14,8)) as pane,
    cast(lites * 2 * (lite_w + lite_h) as DECIMAL(14,4)) as edge,
    cast(sashes * sash_w * sash_h as DECIMAL(16,10)) as face,
    cast((sashes * 2 * sash_h * 2 * thick + sashes * sash_w * 5 * thick
      + sashes * ((across - 1) * sash_h + (down - 1) * sash_w) * 0.875 * thick) * 1.35 as DECIMAL(24,13)) as whole_stock,
    case when rail_rot < 0.1 and cracked = 0 then 'retain' when rail_rot > 0.5 then 'renew' else 'mend' end as fate
  from b
), d as (
  select *,
    cast(case fate when 'retain' then 0 when 'renew' then 1 else least(rail_rot * 1.5, 1.0) end as DECIMAL(7,5)) as share,
    case when fate = 'renew' then lites else least(lites, cracked * 2) end as reglaze,
    case when pane < 72 then 12 when pane < 144 then 18 when pane < 288 then 24 when pane < 432 then 31 else 40 end as pace,
    (cast(edge * 10000 as BIGINT) + 39999) // 40000 as points,
    cast(greatest(face - lites * pane, 0) * 2 as DECIMAL(16,10)) as painted,
    case when fate <> 'renew' and leaded then 1.5 else 1.0 end as slow
  from c
), e as (
  select wing, painted, points, edge,
    case when fate = 'renew' then face * 0.9 else 0 end + case when fate = 'mend' then sashes * 38 * (1 + share) else 0 end as made,
    reglaze * pace as glazed,
    cast(face * 0.035 * slow as DECIMAL(24,14)) + cast(painted * 0.025 as DECIMAL(24,14)) as finished,
    cast(whole_stock as DECIMAL(30,13)) * share as stock,
    reglaze * pane as new_glass
  from d
), f as (
  select wing, painted,
    {amounts},
    round(cast(points * 0.035 as DECIMAL(18,3)), 2) as points_cost,
    round(cast(edge * 0.0625 * 0.07 * 7.90 as DECIMAL(24,12)), 2) as putty_cost,
    made, glazed, finished, stock, new_glass
  from e
), g as (
  select *, {off} as off, round(cast((stock_cost + glass_cost + points_cost + putty_cost + paint_cost) * 1.0625 as DECIMAL(24,6)), 2) as taxed
  from f
), h as (
  select wing, off, round(cast((joiner_cost + glazier_cost + painter_cost + taxed) * 1.125 as DECIMAL(24,5)), 2) as line_total
  from g
)
select wing, cast(sum(line_total) as DECIMAL(18,2)) as wing_total, sum(off) from h group by wing order by wing
"""


# Amounts that are divided: each with its exact numerator and what it is divided by.
AMOUNTS = {
    "joiner_cost": ("made * 64.50", 60),
    "glazier_cost": ("glazed * 58.25", 60),
    "painter_cost": ("finished * 47.75", 60),
    "stock_cost": ("stock * 11.80", 144),
    "glass_cost": ("new_glass * 14.35", 144),
    "paint_cost": ("painted * 62.40", 50400),
}


def by_double(name):
    """What one writes first: the engine's quotient, rounded."""
    numerator, divisor = AMOUNTS[name]
    return f"cast(round({numerator} / {divisor}, 2) as DECIMAL(18,2))"


def by_remainder(name):
    """Exact: the remainder is taken off first, so that the quotient of the DOUBLEs is a whole number of cents."""
    numerator, divisor = AMOUNTS[name]
    half_up = f"cast({numerator} as DECIMAL(38,20)) * 100 + {divisor // 2}"
    return f"cast(({half_up} - ({half_up}) % {divisor}) / {divisor} as BIGINT) * 0.01"


def query(amount, wrong="0"):
    """The rules, with the amounts in one of the two ways."""
    return RULES.format(amounts=",\n    ".join(f"{amount(name)} as {name}" for name in AMOUNTS), off=wrong)


def main():
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("survey")
    ask.add_argument("--threads", type=int, default=2)
    ask.add_argument("--against", type=Decimal)
    ask.add_argument("--exact", action="store_true")
    said = ask.parse_args()
    work = query(by_remainder if said.exact else by_double)
    start = time.perf_counter()
    engine = duckdb.connect(config={"threads": said.threads})
    engine.execute(READ, [said.survey])
    read = time.perf_counter()
    rows = engine.execute(work).fetchall()
    end = time.perf_counter()
    for wing, total, _ in rows:
        print(f"{wing:6} {total:>16}")
    total = sum(total for _, total, _ in rows)
    print(f"all    {total:>16} USD  read {(read - start) * 1e3:.0f} ms, rules {(end - read) * 1e3:.0f} ms, in all {(end - start) * 1e3:.0f} ms")
    if said.against:
        print(f"the engine's {said.against}: {(total - said.against) * 100:+.0f} cents")
        wrong = " + ".join(f"cast({name} <> {by_remainder(name)} as INTEGER)" for name in AMOUNTS)
        rows = engine.execute(query(by_double, wrong)).fetchall()
        print(f"amounts that a DOUBLE puts on the wrong cent: {sum(count for _, _, count in rows)}")


if __name__ == "__main__":
    main()
