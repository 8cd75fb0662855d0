//! Codes for working the rules out.

use super::Entry;

/// In order of code.
pub(super) const ENTRIES: &[Entry] = &[
    Entry {
        code: "OV-901",
        title: "division by zero",
        page: "A figure is divided by one that is zero here. There is no answer, and none is made up. Most often a count was left at
zero in the survey, or a case needs a condition of its own.

  wrong   lite_w = clear / across
  right   lite_w = if across is 0 then clear else clear / across",
    },
    Entry {
        code: "OV-902",
        title: "no row of the table fits",
        page: "A value lies outside all rows of a lookup table. Nothing is guessed past the end of a table: the pace of a pane twice the
largest one measured is not known. Add a row, or give the last band no end.

  wrong   144 to 432   | 27
  right   144 to 432   | 27
          432 and over | 40",
    },
    Entry {
        code: "OV-903",
        title: "no line of a decision holds",
        page: "On this row none of the decision's lines holds, so there is no treatment and no hours for it. Widen a line, or add
`otherwise` with its reason.

  wrong   retain when rot < 10 % ...   renew when rot > 50 % ...
  right   retain when rot < 10 % ...   renew when rot > 50 % ...   mend otherwise ...",
    },
    Entry {
        code: "OV-904",
        title: "two lines of a decision hold",
        page: "On this row two lines of the decision hold, and they would give two different estimates. Narrow one of them, or say
`first that holds` if their order is meant.

  wrong   decide fate {
            mend when rot > 10 % ...
            renew when rot > 50 % ...
          }
  right   decide fate {
            mend when rot is between 10 % and 50 % ...
            renew when rot > 50 % ...
            retain otherwise ...
          }",
    },
    Entry {
        code: "OV-905",
        title: "a step that is not above zero",
        page: "A rounding goes to multiples of a step, and here the step comes to zero or less. Look at the figure the step is made of.

  wrong   bought = need rounded up to pack                 (pack is 0 on this row)
  right   bought = if pack > 0 bf then (need rounded up to pack) else need",
    },
    Entry {
        code: "OV-906",
        title: "too many digits",
        page: "Figures are kept exactly, as fractions, and this one has grown longer than any measure could mean. Long chains of
divisions or high powers do that. Round where the work itself rounds, such as to a sixteenth or a minute.

  wrong   rate = (1 + 1 / 365) ^ 3650
  right   rate = (1 + 1 / 365) ^ 30 rounded to 0.000001",
    },
    Entry {
        code: "OV-907",
        title: "no real result",
        page: "The logarithm of zero or less, an even root of a negative figure, or a broken power of one, does not exist. Look at what
goes in on this row.

  wrong   side = root(area_left, 2) rounded to 1/16 in             (area_left is below zero here)
  right   side = root(larger(area_left, 0 sq in), 2) rounded to 1/16 in",
    },
    Entry {
        code: "OV-908",
        title: "least, most or mean over nothing",
        page: "There is no row to take the least, the most or the mean of, or all weights of the mean are zero. A sum over nothing is
zero; a smallest pane of no panes is nothing at all. Ask first whether there are rows.

  wrong   smallest = least of lite_w where leaded
  right   smallest = if any of leaded then least of lite_w where leaded else 0 in",
    },
    Entry {
        code: "OV-909",
        title: "weights that say no share",
        page: "A figure is to be shared out over rows in proportion to weights, and all weights are zero, or one is below zero, so no share
is right. Share by something every row has, such as its number of sashes.

  wrong   part = set_up shared by cracked
  right   part = set_up shared by sashes",
    },
    Entry {
        code: "OV-910",
        title: "a requirement does not hold",
        page: r#"A `require` of the sheet does not hold on this row; its own words say why. The run stops because the author of the sheet
knows that figures beyond this point cannot be trusted. Mend the row, set it aside by name, or change the rule.

  the sheet     require lite_w > 4 in else "the lites of {mark} would be {lite_w} wide: check the count across"
  the survey    across 9 in a sash 30 in wide: most often one figure too many was typed"#,
    },
    Entry {
        code: "OV-912",
        title: "not a multiple of the step",
        page:
            "A figure is to be shared out in whole steps, and it is not itself a number of whole steps, so parts in steps can never add up
to it. Round the figure first, or leave the steps out.

  wrong   part = boards shared by sashes in steps of 1 bf       (boards is 12 1/2 bf)
  right   boards = need rounded up to 1 bf
          part = boards shared by sashes in steps of 1 bf",
    },
    Entry {
        code: "OV-913",
        title: "the rules cannot be run over this survey",
        page: "The survey has more rows than can be numbered, the machine gave no threads to work with, or the survey read is not the one
that the rules were checked for. The message says which. The first is mended by splitting the survey into jobs; the last
is a fault of the engine, and the sheets with which it happened should be kept and reported.",
    },
    Entry {
        code: "OV-920",
        title: "no result of that name",
        page: "`ovolo why` explains what has a name: a column, a given, a rule or a decision as the sheets write it, a resource, a phase, a
charge, a class such as labor or glass, and `cost` and `total`. Look the name up with `ovolo estimate JOB --in-force`.

  wrong   ovolo why job.ovo glas
  right   ovolo why job.ovo glass",
    },
    Entry {
        code: "OV-921",
        title: "which row is meant",
        page: "The result is worked for each opening, or for each group of them, and the command does not say for which one; or it names a
mark that is not in the survey; or the result is one for the whole job and a mark was given.

  wrong   ovolo why job.ovo cut_w
  right   ovolo why job.ovo cut_w N4",
    },
    Entry {
        code: "OV-922",
        title: "no record of an earlier run",
        page: "`ovolo why JOB --against FILE` needs a file that an earlier run wrote. A printed estimate or its JSON will not do: a record
holds the sheets, the survey and the prices as well, so that each change can be worked alone.

  wrong   ovolo estimate job.ovo --json > monday.json
  right   ovolo estimate job.ovo --record monday.json",
    },
    Entry {
        code: "OV-923",
        title: "the earlier run can't be worked again",
        page: "The sheets, survey or prices in the record are refused by this version of the program, so what changed since can't be worked
step by step. The messages that follow say what is refused. The two totals can still be set side by side by hand.",
    },
];
