//! Codes for units and kinds of value.

use super::Entry;

/// In order of code.
pub(super) const ENTRIES: &[Entry] = &[
    Entry {
        code: "OV-301",
        title: "kinds that do not add or compare",
        page: "Only values of one kind can be added, subtracted or compared: a length to a length, lites to lites. Sums of
unlike things have no meaning and no price. The message sets both kinds side by side; often a factor such as
a size per piece is missing.

  wrong   edge = lites + points
  right   points = lites * (6 point per lite)

  wrong   width + 2
  right   width + 2 in",
    },
    Entry {
        code: "OV-302",
        title: "a percent added to a quantity",
        page: "40 in + 10 % may mean a tenth more, or forty and a tenth. The first is 44 in, the second 40.1 in, and on a
board-foot count that is the waste of a whole job. Say which.

  wrong   stock = net + 10 %
  right   stock = net * (1 + 10 %)",
    },
    Entry {
        code: "OV-303",
        title: "work and days mixed",
        page: "Hours of work (h, min) and days on the calendar (day, week) are two kinds: three people for one day are
twenty-four hours of work and one day of waiting for paint. Turn one into the other with a given of your own.

  wrong   total = 16 h + 2 day
  right   given crew 24 h per day
          total = 16 h + 2 day * crew",
    },
    Entry {
        code: "OV-304",
        title: "a number is wanted",
        page: "Something that is no number (a text, yes or no, a label, a day) stands where one is needed.

  wrong   sash_w = kind / 2
  right   sash_w = wide / 2",
    },
    Entry {
        code: "OV-305",
        title: "a condition is wanted",
        page: "After `if`, `when`, `where`, `require`, `not`, `and`, `or` stands something that is yes or no.

  wrong   if cracked then 2 h else 1 h                (cracked is a count of lites)
  right   if cracked > 0 lite then 2 h else 1 h",
    },
    Entry {
        code: "OV-306",
        title: "branches of different kinds",
        page: "Whatever way it goes, an `if` or `choose` gives one kind of thing, or the figure after it could not be
checked.

  wrong   if leaded then 2 h else 0
  right   if leaded then 2 h else 0 h",
    },
    Entry {
        code: "OV-307",
        title: "no sensible unit",
        page: "The result of this multiplication, power, root or logarithm would have a unit that nobody can use, such as a
percent of a percent's root or inches to the tenth. `ln` and `power` work on plain numbers; `root` needs a unit
that has such a root.

  wrong   ln(wide)
  right   ln(wide / (1 in)) rounded to 0.01",
    },
    Entry {
        code: "OV-308",
        title: "a step of the wrong kind",
        page: "A rounding, or a split in steps, goes to multiples of a step that is of the value's own kind and above zero.

  wrong   wide rounded up to 1/16
  right   wide rounded up to 1/16 in",
    },
    Entry {
        code: "OV-309",
        title: "not what the resource is counted in",
        page: r#"A take must be of the kind its resource is counted in, packs must hold that kind, labor is counted in
person-time. Board feet booked as square feet are wrong by the thickness of the board.

  wrong   resource old_glass glass sq ft
          take old_glass lites for "Glazing"
  right   take old_glass lites * lite_area for "Glazing""#,
    },
    Entry {
        code: "OV-310",
        title: "not a unit",
        page: "The word after a number, after `per` or after `in` is no unit of the list and no noun declared with `counted`;
or a value is to be shown in a unit of another kind.

  wrong   given pace 27 min per lihgt
  right   counted lite
          given pace 27 min per lite",
    },
    Entry {
        code: "OV-311",
        title: "a change of another kind",
        page: r#"A change gives a thing of the same kind as before, or everything built on it would break. A price is money per
unit of the resource; waste and yield are percents.

  wrong   change glaze_pace to 30 min because "new hand"          (it is minutes per lite)
  right   change glaze_pace to 30 min per lite because "new hand""#,
    },
    Entry {
        code: "OV-312",
        title: "unlike things compared",
        page: "A comparison, `choose` or `is one of` has two things of different sorts: a text and a number, a label and a
yes, or a choice is wanted and there is none.

  wrong   when kind is 2
  right   when kind is pair",
    },
    Entry {
        code: "OV-313",
        title: "digits without end",
        page: "A root, a power with a broken exponent or a logarithm has no last digit, so it must say how it is rounded, to
which step, before it is used or compared. Everything else in a sheet is exact.

  wrong   slant = root(w * w + h * h, 2)
  right   slant = root(w * w + h * h, 2) rounded to 1/16 in",
    },
    Entry {
        code: "OV-314",
        title: "the job's one currency",
        page: "A job has one currency. Amounts in another one would have to be changed at a rate that nobody wrote down. A
currency is one of the three-letter codes of ISO 4217.

  wrong   money USD ... given lift 400 CAD per day
  right   given cad 0.73                                  (with its day and source)
          given lift 292 USD per day",
    },
    Entry {
        code: "OV-315",
        title: "parts that do not make one quantity",
        page: "Numbers written one after another make one quantity when they are of one kind and the greater unit comes first.

  wrong   6 in 2 ft
  right   2 ft 6 in",
    },
    Entry {
        code: "OV-316",
        title: "a column or given that contradicts itself",
        page: "The limits, the default or the words of a column do not fit its kind: `whole` on a text, a default in another
unit, limits upside down, a unit of another measure.

  wrong   wide length in in between 8 ft and 12 in
  right   wide length in in between 12 in and 8 ft",
    },
    Entry {
        code: "OV-317",
        title: "a given outside its own range",
        page: "A given with a range lies within it; both ends count. The same holds for every change of it, in a shop or job
sheet and in an alternate, and for what `ovolo weigh --between` is told: a study of its range would else say nothing.
If the range was too narrow, widen it where the given is declared.

  wrong   given glaze_pace 27 min per lite from 30 min per lite to 45 min per lite
  right   given glaze_pace 27 min per lite from 18 min per lite to 45 min per lite",
    },
    Entry {
        code: "OV-318",
        title: "a part of a counted thing",
        page: r#"Sash, lites and points are whole in the end. A take of such a thing must say how it becomes whole: half a box of
points is bought as a box, and one too few stops the glazier. Inside a formula parts of a count are fine.

  wrong   take glazing_point edge / (4 in per point) for "Glazing"
  right   take glazing_point edge / (4 in per point) rounded up to 1 point for "Glazing""#,
    },
    Entry {
        code: "OV-319",
        title: "a wage, charge or sum that cannot be",
        page: "A line of `pay`, a charge, an allowance or the final rounding has an amount of another kind, a base that is not
there, a base named twice, or a margin of the whole price or more. Each of these changes the bid without a trace.

  wrong   charge profit 100 % margin on all so far
  right   charge profit 20 % margin on all so far",
    },
];
