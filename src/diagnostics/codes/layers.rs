//! Codes for layers, changes and trials.

use super::Entry;

/// In order of code.
pub(super) const ENTRIES: &[Entry] = &[
    Entry {
        code: "OV-601",
        title: "a change that hits nothing",
        page: r#"The name after `change` is no given, rule, decision or resource below. A change that hits nothing would leave the old
figure in force while the sheet says otherwise.

  wrong   change glaze_pase to 30 min per lite because "new hand"
  right   change glaze_pace to 30 min per lite because "new hand""#,
    },
    Entry {
        code: "OV-602",
        title: "the value changed is no longer what it was",
        page: r#"The change says `was` with the figure it replaces, and that figure is another one now: someone changed it below. Look
whether the change still holds, then write the new figure after `was`.

  wrong   change waste_pct to 40 % because "poor lot" was 30 %        (the shop sheet says 35 % now)
  right   change waste_pct to 40 % because "poor lot" was 35 %"#,
    },
    Entry {
        code: "OV-603",
        title: "changed twice in one layer",
        page: r#"One layer changes the same thing twice. Which of the two counts would hang on the order of files. Keep one, or put the
second into a higher layer.

  wrong   change bar_face to 5/8 in because "measured"
          change bar_face to 3/4 in because "measured again"
  right   change bar_face to 3/4 in because "measured again""#,
    },
    Entry {
        code: "OV-604",
        title: "a change without a reason",
        page: r#"Each change says why, since the reason is what a reviewer, or you in a year, will ask for.

  wrong   change bar_face to 5/8 in
  right   change bar_face to 5/8 in because "measured at the building""#,
    },
    Entry {
        code: "OV-605",
        title: "a change from below",
        page: r#"Changes go upward: base, shop, job, alternate. A lower layer cannot change what a higher one declares, since it is read
first and used elsewhere too.

  wrong   in a base sheet: change lift to 300 USD per day because "..."         (declared in the job)
  right   put the change into the job sheet"#,
    },
    Entry {
        code: "OV-606",
        title: "a column cannot be changed",
        page: r#"A column holds what was surveyed. A sheet does not overwrite it; change the rule that reads it, or mend the survey.

  wrong   change wide to 30 in because "all alike"
  right   change sash_w to 15 in because "all alike""#,
    },
    Entry {
        code: "OV-607",
        title: "this cannot be set in a trial",
        page: "`with` and `row` set columns and givens: what goes in. What is worked out is expected, not set.

  wrong   with sash_w = 30 in
  right   with wide = 60 in
          expect sash_w = 30 in",
    },
    Entry {
        code: "OV-608",
        title: "a trial value of the wrong kind",
        page: "The value set or expected in a trial is never of the kind of its name, so the trial could never hold. Values set are
written ones; a given is never blank.

  wrong   expect lite_w = 13
  right   expect lite_w = 13 in",
    },
    Entry {
        code: "OV-609",
        title: "a trial comes out otherwise",
        page: "A trial of the sheet gives another result than it expects, to the last digit. Either the rule has changed, or the figure
worked by hand was wrong. Until it is known which, no bid made with this rule can be trusted. The message sets what came
out and what was expected side by side.

  wrong   with wide = 60 in
          expect sash_w = 60 in          (the rule halves it for a pair)
  right   with wide = 60 in
          expect sash_w = 30 in",
    },
    Entry {
        code: "OV-610",
        title: "nothing of this name in the trial",
        page: r#"A trial expects a rule that no sheet has, or gives a row of a related table, such as a defect, to an opening that the
trial does not have. A defect that hangs nowhere would be left out of every sum, and the trial would prove nothing.

  wrong   expect lite_wide = 13 in
  right   expect lite_w = 13 in

  wrong   row mark = "A", wide = 30 in
          row of defect mark = "B", long = 4 in
  right   row mark = "A", wide = 30 in
          row of defect mark = "A", long = 4 in"#,
    },
    Entry {
        code: "OV-611",
        title: "two alternates of one name",
        page: r#"Two alternates have the same name, and could not be told apart on the bid form. Rename one, or join them.

  wrong   alternate "All new" {
            ...
          }
          alternate "All new" {
            ...
          }
  right   alternate "All new" {
            ...
          }
          alternate "All new, clear glass" {
            ...
          }"#,
    },
    Entry {
        code: "OV-620",
        title: "a mixed plan that can't be made",
        page: r#"A mixed plan takes, on each opening, one of two other plans: the first where its cost is below a share of the second's,
else the second. It names two alternates, or "as decided", that are not mixed themselves, weighs against the one taken
otherwise, and makes no changes of its own.

  wrong   pick "All mended" where cost less than 60 % of "All new" otherwise "Modern glass"
  right   pick "All mended" where cost less than 60 % of "All new" otherwise "All new""#,
    },
    Entry {
        code: "OV-621",
        title: "no range to look through",
        page: r#"A flip is looked for from a lower value to a higher one in steps. The ends told are the wrong way round or the same, or the
step does not fit between them.

  wrong   ovolo weigh job.ovo --flip glaze_pace --between 45 --and 18
  right   ovolo weigh job.ovo --flip glaze_pace --between 18 --and 45"#,
    },
    Entry {
        code: "OV-622",
        title: "a change that can't be picked opening by opening",
        page: r#"A mixed plan picks what its plans change opening by opening. A price, a waste, or a value worked for a group or for the whole
job is one for all openings, so there is nothing to pick. A given can be picked where it is read opening by opening.

  wrong   alternate "Clear glass" { change price of old_glass to 6.40 USD per sq ft because "float" }
          alternate "Mixed" { pick "Clear glass" where cost less than 60 % of "All new" otherwise "All new" }
  right   keep "Clear glass" as an alternate beside the mixed plan"#,
    },
    Entry {
        code: "OV-630",
        title: "real and nominal rates mixed",
        page: r#"A real rate leaves general inflation out, a nominal one has it in. A discount of one kind with prices that rise at a rate of
the other gives a present worth that is wrong by inflation over all the years. State all rates in one kind, or state
inflation, by which one kind is turned into the other (E = e + I + e x I).

  wrong   discount 5 % nominal      escalation 1 % real
  right   discount 3 % real         escalation 1 % real
  right   discount 5 % nominal      escalation 1 % real      inflation 2 %"#,
    },
    Entry {
        code: "OV-631",
        title: "a cost over the years that is no money",
        page: r#"Upkeep, replacement and residual value are amounts of money in today's prices, once for the job, or a share of the first cost.

  wrong   upkeep "Repaint" 40 h every 7 years
  right   upkeep "Repaint" 40 h * painter_rate every 7 years
  right   residual "Worth left" 20 % of first cost"#,
    },
    Entry {
        code: "OV-632",
        title: "a line of a `life` block that can't stand",
        page: r#"The length of the study and its rates are said once, in the `life` block without an alternate, for plans compared over other
years or rates can't be compared. Years are whole, 1 to 100. What comes each year is written so.

  wrong   upkeep "Look over" 350 USD every 1 year
  right   upkeep "Look over" 350 USD each year"#,
    },
    Entry {
        code: "OV-633",
        title: "costs over the years of an alternate that is not there",
        page: r#"`life of "..."` names an alternate of the job, or "as decided" for the job without one.

  wrong   life of "All new glass" {
  right   life of "All new" {"#,
    },
    Entry {
        code: "OV-634",
        title: "no study over the years can be made",
        page: r#"A study needs its length and a discount, from a `life` block or from the command line, and amounts that can be worked.

  wrong   ovolo weigh job.ovo --years 30
  right   ovolo weigh job.ovo --years 30 --discount "3 % real""#,
    },
];
