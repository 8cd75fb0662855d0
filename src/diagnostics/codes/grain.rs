//! Codes for grain: what a value is per.

use super::Entry;

/// In order of code.
pub(super) const ENTRIES: &[Entry] = &[
    Entry {
        code: "OV-501",
        title: "one value wanted, many there",
        page: "The value is worked once for each opening (or group), and here one value for all of them is needed. Say how they come
together: their sum, the least, the most, a weighted mean.

  wrong   for the job {
            all_hours = hours
          }
  right   for the job {
            all_hours = sum of hours
          }",
    },
    Entry {
        code: "OV-502",
        title: "this cannot be summed",
        page: "Adding up sizes, rates, percents or facts read from above gives a figure without meaning: the widths of twenty openings,
end to end, buy nothing. Multiply by a count first, weigh the mean, or say `adds up` where the value is declared if it
really does.

  wrong   sum of pace
  right   mean of pace weighted by lites

  wrong   sum of bead_length              (bead_length = 2 * (wide + high))
  right   bead_length = 2 * (wide + high) adds up",
    },
    Entry {
        code: "OV-503",
        title: "nothing below to bring together",
        page: "`sum of`, `count of` and the like bring rows together that lie below the block they stand in. Here nothing lies below.

  wrong   for each opening {      (hours is worked for each opening too)
            all = sum of hours
          }
  right   for the job {
            all = sum of hours
          }",
    },
    Entry {
        code: "OV-504",
        title: "two groupings that do not meet",
        page: "Neither of the two grains holds rows of the other: a wing is not made of kinds, nor a kind of wings. Bring the value up to
the opening's own rows or to the job, and read it from there.

  wrong   for each batch of opening by kind {      (worked for each wing)
            x = wing_hours
          }
  right   for each opening {
            x = wing_hours shared by lites
          }",
    },
    Entry {
        code: "OV-505",
        title: "nothing to share out",
        page: "`shared by` splits a figure that was worked once for a group or for the job over the rows below. A figure of each row, or
one that is the same everywhere, has nothing to split.

  wrong   for each opening {
            part = 2 h shared by sashes
          }
  right   for the job {
            set_up = 2 h
          }
          for each opening {
            part = set_up shared by sashes
          }",
    },
    Entry {
        code: "OV-506",
        title: "a take that does not add up",
        page: r#"A take-off line is summed over its rows. A rate, a percent, or a fact read from above cannot be: the same set-up would be
counted once for each opening.

  wrong   for each opening {      (set_up is worked for the job)
            take joiner set_up for "Making"
          }
  right   for the job {
            take joiner set_up for "Making" shared by sashes
          }"#,
    },
    Entry {
        code: "OV-507",
        title: "keys of a group",
        page: "A group is made by columns or rules of each row, and one name stands for one set of keys.

  wrong   for each batch of opening by knid {
            ...
          }
  right   for each batch of opening by kind {
            ...
          }",
    },
    Entry {
        code: "OV-508",
        title: "a mean and its weight",
        page: "A plain mean of unlike openings misleads: a rate of ten small ones and one large one. So a mean says by what it is weighed;
the other words take no weight.

  wrong   mean of pace
  right   mean of pace weighted by lites",
    },
    Entry {
        code: "OV-509",
        title: "a group's key changed by an alternate",
        page: r#"The groups are made once and serve every alternate, or the alternates could not be set side by side. Change what is worked
inside the group, or group by a value that stays.

  wrong   alternate "All new" {      (a key of: for each batch of opening by kind_group)
            change kind_group to ...
          }
  right   alternate "All new" {
            change set_up to 3 h because "new cutters"
          }"#,
    },
];
