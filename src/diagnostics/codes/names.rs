//! Codes for names and structure.

use super::Entry;

/// In order of code.
pub(super) const ENTRIES: &[Entry] = &[
    Entry {
        code: "OV-201",
        title: "one name for two things",
        page: r#"Two rules, givens, columns, resources or tables have the same name in the same place. Which of them a
formula means would be a guess, and two paces under one name are two different bids.

  wrong   given bar_face 7/8 in
          given bar_face 5/8 in
  right   given bar_face 7/8 in
          given old_bar_face 5/8 in

To replace a figure of a lower layer, change it: change bar_face to 5/8 in because "measured""#,
    },
    Entry {
        code: "OV-202",
        title: "nothing has this name",
        page: "A formula uses a name that is no column, given, rule or parameter here. Mostly it is a slip of the pen;
the message offers the nearest name that would fit. Units are no names: they stand only after a number.

  wrong   sash_w = wdie / 2
  right   sash_w = wide / 2",
    },
    Entry {
        code: "OV-203",
        title: "no such resource",
        page: r#"A `take`, a `pay` block or an expectation names a resource that no sheet declares. A resource has to be
declared once, with its class and unit, so that it can be bought and priced.

  wrong   take glazeir 2 h for "Glazing"
  right   resource glazier labor h
          take glazier 2 h for "Glazing""#,
    },
    Entry {
        code: "OV-204",
        title: "a helper is not known or gets the wrong number of values",
        page: "Helpers and the built-in functions (smaller, larger, abs, root, power, ln) take a fixed number of values,
in the order they are declared. A value too few would shift all the others.

  wrong   helper ring(w, h) = 2 * (w + h)
          edge = ring(wide)
  right   edge = ring(wide, high)",
    },
    Entry {
        code: "OV-205",
        title: "rules that need one another",
        page: "A rule needs a second one, and the second, in the end, needs the first. The order of rules in a file does
not matter, but no figure can be had before itself. The message shows the whole round.

  wrong   clear = wide - 2 * stile
          stile = (wide - clear) / 2
  right   given stile 2 in
          clear = wide - 2 * stile",
    },
    Entry {
        code: "OV-206",
        title: "sheets that use one another",
        page: r#"A sheet uses a second one which, in the end, uses the first. Put what both need into a third sheet and let
both use that one.

  wrong   in shop.ovo: use "sash.ovo"     in sash.ovo: use "shop.ovo"
  right   in shop.ovo: use "sizes.ovo"    in sash.ovo: use "sizes.ovo""#,
    },
    Entry {
        code: "OV-207",
        title: "too many sheets",
        page: "More sheets use one another than any job needs, or they are stacked too deep. This is a fence against
files made to tie up the machine. Join small sheets into larger ones.",
    },
    Entry {
        code: "OV-208",
        title: "a survey file that fits no survey",
        page: r#"The job block reads a file into a survey that no sheet declares, or says that its cells are parted by
something else than a comma, a semicolon or a tab.

  wrong   survey openings from "survey.csv"
  right   survey opening from "survey.csv"        (as in: survey opening { ... })"#,
    },
    Entry {
        code: "OV-209",
        title: "no such survey or group",
        page: "A block, a count or a related table names a survey or group that is not declared. The name is the one
that stands after `survey`, or after `for each` in a block with keys.

  wrong   for each window {      (the survey is called opening)
            ...
          }
  right   for each opening {
            ...
          }",
    },
    Entry {
        code: "OV-210",
        title: "no such choice",
        page: "A column or a decision says that it holds one of the labels of a choice, and no sheet declares the choice.

  wrong   decide fate of treatmnet {
            ...
          }
  right   choice treatment one of retain, mend, renew
          decide fate of treatment {
            ...
          }",
    },
    Entry {
        code: "OV-211",
        title: "a label that the choice does not have",
        page: "A condition, an arm or a default names a label that is not one of the choice's, or a label that several
choices share where it cannot be told which is meant. A label that is never met would leave its openings
out of the work in silence.

  wrong   when kind is dubble
  right   when kind is double",
    },
    Entry {
        code: "OV-212",
        title: "a helper that calls itself",
        page: "A helper is worked once and cannot go round, so the length of a run is known before it starts. Write the
sum out, or work it with `sum of` over rows.

  wrong   helper twice(x) = twice(x) + x
  right   helper twice(x) = 2 * x",
    },
    Entry {
        code: "OV-213",
        title: "said twice in the job",
        page: r#"The job block, a survey's files, or the final rounding stands there twice. Which one counts would be a
guess, and the two may differ by real money. Keep one. Several files of one survey go on one line.

  wrong   survey opening from "west.csv"
          survey opening from "east.csv"
  right   survey opening from "west.csv", "east.csv""#,
    },
    Entry {
        code: "OV-214",
        title: "no such column",
        page: "`by` names a column that is not there: the column that ties a related table to the one above must be in
both, and `split by` needs a text or choice of the opening.

  wrong   survey defect of opening by window {
            mark text ...
          }
  right   survey defect of opening by mark {
            mark text ...
          }",
    },
    Entry {
        code: "OV-215",
        title: "no such class of resource",
        page: "A resource belongs to one of labor, stock, glass, points, putty or other. The class says in which headline
total it stands and which charges reach it.

  wrong   resource heart_pine lumber bf
  right   resource heart_pine stock bf",
    },
    Entry {
        code: "OV-216",
        title: "a counted noun that is a unit",
        page: "A word that already names a unit cannot also name something counted: 3 point would be fine, but 3 yard
could be a length or a number of yards full of sash.

  wrong   counted yard
  right   counted store_yard",
    },
    Entry {
        code: "OV-217",
        title: "an open brace in a text",
        page: r#"In a `because`, `else` or `caution` text, {name} puts a value in. Here a { has no }.

  wrong   else "{mark is too narrow"
  right   else "{mark} is too narrow""#,
    },
    Entry {
        code: "OV-218",
        title: "the key of a survey",
        page: "Every survey has one text column marked `key`; it names the row in each message and list, so that a total
can always be traced back to an opening. A related table needs none of its own.

  wrong   survey opening {
            wide length in in
          }
  right   survey opening {
            mark text key
            wide length in in
          }",
    },
    Entry {
        code: "OV-219",
        title: "a missing cell with two meanings",
        page: "A column says both what to put for a blank and that a blank may stay. It can only be one of the two.

  wrong   thick length in in optional if blank 1 3/8 in
  right   thick length in in if blank 1 3/8 in",
    },
    Entry {
        code: "OV-220",
        title: "too deep or too many",
        page: "Rules are stacked on one another deeper than any estimate needs, or the sheets make more expressions than
can be kept. This is a fence against files made to tie up the machine. Name a middle result, or take out
copies of the same rule.",
    },
    Entry {
        code: "OV-221",
        title: "a take without its phase",
        page: r#"Each take-off line says for which phase of the work it is, so that hours can be laid out over the weeks.

  wrong   take glazier 2 h
  right   take glazier 2 h for "Glazing""#,
    },
    Entry {
        code: "OV-222",
        title: "the sheet is no job",
        page: r#"This command works a whole job, and the sheet given has no job block that names a survey. `ovolo proof` and `ovolo trial`
work on any sheet.

  wrong   ovolo estimate sash.ovo
  right   ovolo estimate job.ovo          (with: job { survey opening from "survey.csv" })"#,
    },
    Entry {
        code: "OV-223",
        title: "a survey without its file",
        page: r#"The rules read a survey for which the job names no file. The openings themselves must come from one; a table that hangs
below another may have no rows (OV-224).

  wrong   job {
            prices from "prices.csv"
          }
  right   job {
            survey opening from "survey.csv"
            prices from "prices.csv"
          }"#,
    },
    Entry {
        code: "OV-224",
        title: "a table below the survey without its file",
        page: r#"A caution: rules read a table that hangs below the openings, such as their defects, and the job names no file for it. The
run goes on as if no opening had any, which is right where there are none and costs money where the file was forgotten.
Name the file, or say that there are none.

  wrong   job {
            survey opening from "survey.csv"
          }
  right   job {
            survey opening from "survey.csv"
            survey defect  from "defects.csv"      (or: survey defect none)
          }"#,
    },
    Entry {
        code: "OV-225",
        title: "a phase that is not listed",
        page: r#"Where a sheet lists the phases, every take is for one of them: a phase that is misspelt would else stand in the
reports as a phase of its own. The lists of all sheets count together, so a shop's sheet may add phases in a `phases` line of
its own. Capitals and blanks count.

  wrong   phases "Removal", "Glazing"
          take glazier 2 h for "glazing"
  right   take glazier 2 h for "Glazing""#,
    },
];
