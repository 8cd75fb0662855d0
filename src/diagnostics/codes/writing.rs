//! Codes for how sheets are written.

use super::Entry;

const fn entry(code: &'static str, title: &'static str, page: &'static str) -> Entry {
    Entry { code, title, page }
}

/// In order of code.
pub(super) const ENTRIES: &[Entry] = &[
    entry(
        "OV-101",
        "a word or sign cannot be read here",
        "Up to this place the line makes sense; what stands here does not fit any more. The message says what could have stood
here and how the whole line goes.

  wrong   given stile_face 2 in sorce \"shop log\"
  right   given stile_face 2 in source \"shop log\"",
    ),
    entry(
        "OV-102",
        "a line begins with a word this block does not know",
        "Each line of a sheet begins with a word that says what it is. Rules (NAME = FORMULA), take, decide and require stand inside
a `for` block; given, resource, survey and the blocks themselves stand at the top of a sheet, outside all braces.

  wrong   sash_w = wide / 2
  right   for each opening {
            sash_w = wide / 2
          }",
    ),
    entry(
        "OV-103",
        "a text is not closed",
        "A text stands in double quotes and ends on the line it began on. An inch mark right after a number is not a quote.

  wrong   take glazier 1 h for \"Glazing
  right   take glazier 1 h for \"Glazing\"",
    ),
    entry(
        "OV-104",
        "braces do not pair",
        "A block opens with { at the end of its heading's line and closes with } alone on a line. Here one of the two is missing or
there is one too many. Nothing else may stand on the line of the closing }.

  wrong   for each opening {
            sash_w = wide / 2
  right   for each opening {
            sash_w = wide / 2
          }",
    ),
    entry(
        "OV-105",
        "blocks stand too deep in one another",
        "The deepest a sheet needs is a `decide` inside a `for` block. Blocks deeper than eight levels are refused at once, since a
missing } above them is nearly always the cause.

  right   for each opening {
            decide fate of treatment {
              ...
            }
          }",
    ),
    entry(
        "OV-106",
        "a statement or a sheet is too long",
        "So that a run can never hang on what it is given, one statement holds at most 64 brackets in one another, 250 operators and
16,384 characters, and one sheet 4 MB. Give a part of the formula a name of its own.

  right   edge  = 2 * (lite_w + lite_h) per lite
          putty = edge * lites * bead",
    ),
    entry(
        "OV-107",
        "this power cannot be taken",
        "`^` takes a whole number between -1000 and 1000. Other powers are irrational: `power(x, y)` gives them, and only under a
rounding, so that the sheet says how exact they are.

  wrong   a = pieces ^ 1.5
  right   a = power(pieces, 1.5) rounded to 0.001",
    ),
    entry(
        "OV-108",
        "a number has too many digits",
        "A written number holds at most 40 digits. No rule, tape or price has that many: a digit was likely typed twice, or the
number was copied from a calculation. Round it to what was measured.

  wrong   given a 3.14159265358979323846264338327950288419716939 in
  right   given a 3.14159 in",
    ),
    entry(
        "OV-109",
        "this is not a number",
        "Numbers are digits with at most one point, a fraction is digits, a stroke and digits without blanks, and a number begins
with a digit. Nothing can be divided by zero.

  wrong   given rabbet .5 in          given rabbet 1/0 in
  right   given rabbet 0.5 in         given rabbet 1/2 in",
    ),
    entry(
        "OV-110",
        "a heading does not open its block",
        "The heading of a block ends in { on the same line, and the lines of the block stand below it, one statement a line.

  wrong   for each opening:
            sash_w = wide / 2
  right   for each opening {
            sash_w = wide / 2
          }",
    ),
    entry(
        "OV-111",
        "`sheet` does not come first",
        "A file is one sheet. Its title line, if it has one, is the first statement; only comments may stand above it.

  right   sheet \"Glazing\" layer base
          use \"sizes.ovo\"",
    ),
    entry(
        "OV-112",
        "there is no such layer",
        "A sheet belongs to one of three layers: base (the trade's rules), shop (your own paces and habits) and job (this building).
Changes in a higher layer go before what a lower one says. Alternates have blocks of their own.

  wrong   sheet \"Our paces\" layer ours
  right   sheet \"Our paces\" layer shop",
    ),
    entry(
        "OV-113",
        "the same word is given twice on a line",
        "Two sources, two phases or two wastes on one line: only one of them could count, so the line is refused. Keep one.

  wrong   take joiner 1 h for \"Making\" for \"Glazing\"
  right   take joiner 1 h for \"Making\"",
    ),
    entry(
        "OV-114",
        "there is no such row",
        "`heading row N` says in which row of the file the headings stand, counted from 1 as a workbook shows them.

  wrong   survey opening from \"survey.csv\" heading row 0
  right   survey opening from \"survey.csv\" heading row 1",
    ),
    entry(
        "OV-115",
        "a character that cannot be seen",
        "The line holds a control character, or one that turns the direction of reading round. What the engine reads would not be
what you see, so it is refused. It came in by pasting: type the line afresh.

  right   given stile_face 2 in",
    ),
    entry(
        "OV-120",
        "a sign of another notation",
        "Sheets use few signs: + - * / ^ for working, < <= > >= for comparing sizes, one = to name a rule, : after a label of
`choose`, # before a comment. The rest is said in words: `is`, `is not`, `and`, `or`, `not`, `if ... then ... else`. Money has its
currency after the number.

  wrong   w = kind == pair ? wide / 2 : wide
  right   w = if kind is pair then wide / 2 else wide",
    ),
    entry(
        "OV-121",
        "a comma stands in a number",
        "A comma parts the things of a list, so it cannot stand in a number: not between thousands, and not before decimals. (Cells
of a survey may have decimal commas if the job says so.)

  wrong   given fee 1,250 USD       given rabbet 9,5 mm
  right   given fee 1250 USD        given rabbet 9.5 mm",
    ),
    entry(
        "OV-122",
        "brackets do not pair",
        "Every ( needs its ) and every { of a `choose` its }, within one statement.

  wrong   edge = 2 * (lite_w + lite_h
  right   edge = 2 * (lite_w + lite_h)",
    ),
    entry(
        "OV-123",
        "a statement stops too early, or lacks a value",
        "Something is still due: a value after an operator, a name, a text. A statement may go on on further lines if they are indented
deeper than the one it began on; a line at the same depth begins a new statement.

  wrong   area = wide *
          high
  right   area = wide *
            high",
    ),
    entry(
        "OV-124",
        "a number stands where nothing joins it to what is before",
        "Two values stand side by side without an operator. A mixed number is written with a fraction without blanks (30 1/2), and
inches after feet need their mark.

  wrong   a = wide 2            b = 2' 6 1/2
  right   a = wide * 2          b = 2'-6 1/2\"",
    ),
    entry(
        "OV-125",
        "a word with a meaning of its own",
        "Words such as if, then, is, to, of, by, at, per, for and from hold formulas together. They cannot name anything, and each has
its place.

  wrong   given per 4 in
  right   given spacing 4 in per point",
    ),
    entry(
        "OV-126",
        "a word is missing, or another word belongs here",
        "The line is nearly right: a small word that holds it together is missing, or stands for one that sheets do not use. The
message names the word and where it belongs.

  wrong   take glazier 1 h \"Glazing\"            a = wide / 3 rounded 1/16 in
  right   take glazier 1 h for \"Glazing\"        a = wide / 3 rounded to 1/16 in",
    ),
    entry(
        "OV-127",
        "a text without straight double quotes",
        "Texts (file names, phases, reasons, headings) stand in straight double quotes. Names and labels stand without any. Curly
quotes come from word processors: use a plain text editor for sheets.

  wrong   use shop.ovo             take glazier 1 h for Glazing
  right   use \"shop.ovo\"           take glazier 1 h for \"Glazing\"",
    ),
    entry(
        "OV-128",
        "a word of the language in capitals",
        "The words of the language are written small, so that they are told apart from names at a glance.

  wrong   w = IF kind is pair THEN wide / 2 ELSE wide
  right   w = if kind is pair then wide / 2 else wide",
    ),
    entry(
        "OV-129",
        "two statements where one can stand",
        "Each statement stands on a line of its own, and the statements of a block begin at one depth: a line that is indented deeper
continues the one above it.

  wrong   a = wide  b = high          a = wide
                                        b = high
  right   a = wide
          b = high",
    ),
    entry(
        "OV-131",
        "this cannot be a name",
        "A name is letters, digits and _, and begins with a letter. A hyphen would be read as a minus, a blank as the end of the name.

  wrong   sash-width = wide / 2       2nd_coat = 1 qt
  right   sash_width = wide / 2       coat_2 = 1 qt",
    ),
    entry(
        "OV-132",
        "a column's type is missing or unknown",
        "Each column of a survey says what it holds: text, a size (length in in, area in sq ft ...), number, count of NOUN, percent,
yes or no, date, one of LABELS, or of CHOICE.

  wrong   leaded boolean                 wide inches
  right   leaded yes or no               wide length in in",
    ),
    entry(
        "OV-133",
        "a unit is missing",
        "Sizes, amounts and rates carry their unit wherever they come in; nothing is guessed.

  wrong   wide length between 12 in and 8 ft       resource glazier labor
  right   wide length in in between 12 in and 8 ft     resource glazier labor h",
    ),
    entry(
        "OV-134",
        "a percent sign is missing",
        "Waste, yield and shares are written with their percent sign: 35 % is thirty-five hundredths, 35 would be thirty-five times.

  wrong   resource pine stock bf waste 35
  right   resource pine stock bf waste 35 %",
    ),
    entry(
        "OV-135",
        "a comma is missing, or one too many",
        "Commas part the things of a list: phases, labels, keys, settings of a trial. Arms of `choose` stand side by side without
commas, since there a comma joins the labels of one arm.

  wrong   choose kind { single: 1 sash, pair: 2 sash }
  right   choose kind { single: 1 sash   pair: 2 sash }",
    ),
    entry(
        "OV-136",
        "a given is a written figure",
        "A given is a figure that someone measured, read or settled, so that it can be changed in one place. What is worked out from
other values is a rule.

  wrong   given rabbet stile_face / 4
  right   for the job {
            rabbet = stile_face / 4
          }",
    ),
    entry(
        "OV-137",
        "a hyphen that may join or subtract",
        "On the bench 30-1/2 is thirty and a half; in arithmetic it is thirty less a half. Both look right and differ by an inch, so a
hyphen with no blank beside it is refused between a whole number and a fraction, and between feet and inches. Only the
marks of feet and inches are joined by one: 2'-6 1/2\".

  wrong   face = 2-1/4 in
          clear = 30-1/2 in
  right   face = 2 1/4 in
          clear = 30 in - 1/2 in",
    ),
];
