//! Codes for missing values, choices, decisions and tables.

use super::Entry;

/// In order of code.
pub(super) const ENTRIES: &[Entry] = &[
    Entry {
        code: "OV-401",
        title: "a value that may be missing",
        page: "The column is `optional` (or may be n/a), and the rule does not say what to do when nothing stands there. Blank is
never zero: an opening without its thickness is not an opening of no thickness.

  wrong   volume = wide * high * thick
  right   volume = wide * high * (thick if blank 1 3/8 in)

To let the gap show in the totals instead:  thick if blank unknown",
    },
    Entry {
        code: "OV-402",
        title: "a default that is never needed",
        page: "A caution: the value before `if blank` or `if n/a` is never missing, so the default is never used. It would
mislead a reader about what the figure rests on.

  wrong   wide if blank 30 in                  (wide must be filled in the survey)
  right   wide",
    },
    Entry {
        code: "OV-403",
        title: "labels without a value",
        page: "`choose` covers every label of the choice, or says `otherwise`. A label left out would be an opening without hours.

  wrong   choose kind { single: 1 sash   pair: 2 sash }
  right   choose kind { single: 1 sash   pair, hung: 2 sash }",
    },
    Entry {
        code: "OV-404",
        title: "a label or `otherwise` out of place",
        page: "In `choose`, each label has one value, and `otherwise` comes last and only when labels are left for it.

  wrong   choose kind { single: 1 sash   single: 2 sash   otherwise: 3 sash }
  right   choose kind { single: 1 sash   otherwise: 2 sash }",
    },
    Entry {
        code: "OV-405",
        title: "a decision with a gap",
        page: "There are openings for which no line of the decision holds; the message shows one. They would get no treatment and
no hours. Often a limit itself is left out: `< 10 %` and `> 10 %` forget ten percent.

  wrong   retain when rot < 10 % ...
          mend   when rot > 10 % ...
  right   retain when rot < 10 % ...
          mend   otherwise ...",
    },
    Entry {
        code: "OV-406",
        title: "a decision with two answers",
        page: "There are openings for which two lines of the decision hold; the message shows one. Exactly one may hold. Narrow one of
the lines, or say that the first that holds counts.

  wrong   decide fate {
            mend when rot > 10 % ...
            renew when rot > 50 % ...
          }
  right   decide fate first that holds {
            renew when rot > 50 % ...
            mend when rot > 10 % ...
          }",
    },
    Entry {
        code: "OV-407",
        title: "a line that never counts",
        page: "A caution: no opening can reach this line, since its condition cannot hold or lines above it hold first. A rule that
looks present and never counts is the hardest to find in a bid. Mend its condition or take it out.

  wrong   mend when rot < 10 % and rot > 50 % ...
  right   mend when rot > 10 % and rot < 50 % ...",
    },
    Entry {
        code: "OV-408",
        title: "a decision that cannot be proved",
        page: "A caution: whether exactly one line holds depends on figures that are worked out, or on too many conditions at once.
It is then looked at on every row of the survey, and a row without an answer, or with two, stops the run. A last line
`otherwise`, or `first that holds`, settles it beforehand.

  wrong   mend when worn * 2 > keep ...   retain when worn < 5 h ...
  right   mend when worn * 2 > keep ...   retain otherwise ...",
    },
    Entry {
        code: "OV-409",
        title: "the form of a decision",
        page: r#"A decision has lines `LABEL when CONDITION because "..."`, and `otherwise` as the last of them; a decision table has
headings, conditions first, then the decision's name, then `because`.

  wrong   decide fate {
            mend otherwise because "worn"
            retain when rot is 0 % because "sound"
          }
  right   decide fate {
            retain when rot is 0 % because "sound"
            mend otherwise because "worn"
          }"#,
    },
    Entry {
        code: "OV-410",
        title: "the form of a table",
        page: "A table has headings, then at least one row with as many cells as there are headings, no heading twice. A table read
from a file has no rows of its own. A cell too many shifts all figures behind it under the wrong heading.

  wrong   pane (sq in) | pace (min per lite)
          0 to 144     | 18 | 20
  right   pane (sq in) | pace (min per lite)
          0 to 144     | 18",
    },
    Entry {
        code: "OV-411",
        title: "a cell that does not fit its column",
        page: "A cell of a table is a number of the heading's unit, a label, a text, yes, no, or a band: `under 10 %`,
`10 % to 50 %` (from the first, up to but not with the second), `50 % and over`, `any`.

  wrong   144 to 0
  right   0 to 144",
    },
    Entry {
        code: "OV-412",
        title: "two rows for one key",
        page: "Two rows of a table fit the same keys, so the figure found would hang on the order of the rows. Bands hold their lower
end and not their upper one: 0 to 144 and 144 to 432 do not overlap.

  wrong   0 to 150   | 18
          144 to 432 | 27
  right   0 to 144   | 18
          144 to 432 | 27",
    },
    Entry {
        code: "OV-413",
        title: "nothing to interpolate",
        page: "Straight lines are drawn only between numbers: the table needs one key column of plain numbers without bands, and a number
as the value.

  wrong   pane (sq in) | pace (min per lite)
          0 to 144     | 18
  right   pane (sq in) | pace (min per lite)
          72           | 18
          288          | 27",
    },
    Entry {
        code: "OV-414",
        title: "no such table",
        page: "A formula looks something up in a table that no sheet declares.

  wrong   pace from glaze_stpe at pane
  right   pace from glaze_step at pane",
    },
    Entry {
        code: "OV-415",
        title: "no such column of the table",
        page: r#"A formula asks for a column the table does not have, or the table says `by` a heading that is not there. A heading's
words joined with _ are its name: "points a lite" is points_a_lite.

  wrong   speed from glaze_step at pane
  right   pace from glaze_step at pane"#,
    },
    Entry {
        code: "OV-416",
        title: "keys too many or too few",
        page: "A table is looked up with one value for each of its keys, in the order they stand after `by`.

  wrong   table weight by kind, thick {
            ...
          }
          pounds from weight at kind
  right   pounds from weight at kind, thick",
    },
    Entry {
        code: "OV-417",
        title: "a key that does not fit the table",
        page: "The value looked up is of another kind than the table's key, or it is a choice and some of its labels have no row.

  wrong   pace from glaze_step at wide             (the key is an area)
  right   pace from glaze_step at (wide * high)",
    },
    Entry {
        code: "OV-418",
        title: "the table's file cannot be read",
        page: r#"The CSV file of a table is not there, or is no CSV. Its path counts from the folder of the sheet.

  wrong   table weight from "weight.csv" by species             (the file lies in reference)
  right   table weight from "reference/weight.csv" by species"#,
    },
    Entry {
        code: "OV-419",
        title: "a question with one answer",
        page: "A caution: the rule asks whether a value is blank, n/a or known, and the answer is the same on every row: the column must
be filled, or says what stands for a blank. What stands under the question never counts, or always does.

  wrong   long = if wide is blank then 30 in else wide          (wide must be filled in the survey)
  right   wide length in in optional                            (in the survey block)
          long = if wide is blank then 30 in else wide",
    },
    Entry {
        code: "OV-420",
        title: "`unknown` out of place",
        page: "`unknown` says that a missing value may stay missing, so it stands only after `if blank` or `if n/a`. It is no number
to estimate with.

  wrong   given wage unknown
  right   leave the given out, or write: thick if blank unknown",
    },
    Entry {
        code: "OV-421",
        title: "a gap between two bands of a table",
        page: "A caution: between two bands of a table lie values that no row holds. A band holds its lower end and not its upper
one, so the next begins with the number the one before ends with. A row of the survey in the gap is refused while running
(OV-902); nothing is drawn from one band to the next.

  wrong   0 to 100      | 18
          110 to 140    | 27
  right   0 to 110      | 18
          110 to 140    | 27",
    },
];
