//! Codes for surveys and their cells.

use super::Entry;

/// In order of code.
pub(super) const ENTRIES: &[Entry] = &[
    Entry {
        code: "OV-700",
        title: "no heading row",
        page: "Among the first rows of the file none names the columns that the sheet asks for; two at least must be there. Headings are compared\n\
without case, blanks and line breaks. Check the spelling, add the file's headings to the sheet (`headed \"...\"`), or say which row it is:\n\
heading row 4.",
    },
    Entry {
        code: "OV-701",
        title: "a column is missing",
        page: "The sheet asks for a column that may not be blank, and no heading of the file names it. Add the column to the file, add the file's\n\
heading to the column in the sheet (`headed \"...\"`), or let the column be `optional` or give it a value `if blank`.",
    },
    Entry {
        code: "OV-702",
        title: "two columns of one name",
        page: "Two headings of the file name the same column of the sheet, so which one holds the value would be a guess. Rename or take out the one\n\
that is not meant.",
    },
    Entry {
        code: "OV-703",
        title: "a heading is nearly right",
        page: "A heading of the file is one slip away from a column that the sheet asks for, and no other heading names that column. It is neither\n\
taken for the column nor left out in silence. Mend the heading, or add it to the column's `headed` list.",
    },
    Entry {
        code: "OV-704",
        title: "the heading's unit does not fit",
        page: "A unit behind a heading, as in \"Width (mm)\" or \"H, in\", is the unit of bare numbers below it. It must be a unit of the column's own\n\
kind: a length for a length. Mend the heading or the sheet.",
    },
    Entry {
        code: "OV-705",
        title: "no rows",
        page: "The heading row was found, but no row with data below it. Rows above the headings are never read: check that the heading row is the\n\
one meant, and that the rows are not in another tab.",
    },
    Entry {
        code: "OV-706",
        title: "a row without a mark",
        page: "A row has data in columns that the sheet reads, but nothing in the column that names it. Such a row is never skipped: it may be an\n\
opening. Give it a mark. If it is a total, write the word in the mark's column, since the word in another column may be a name with a\n\
forgotten mark beside it; if it is a note, move it above the headings or out of the columns that the sheet reads.",
    },
    Entry {
        code: "OV-707",
        title: "a mark used twice",
        page: "Two rows have the same mark. One opening surveyed twice would be counted twice, and two openings under one mark cannot be told apart\n\
in any list, so nothing runs until one of them is changed. Setting unreadable rows aside does not help here; naming the mark sets both aside.",
    },
    Entry {
        code: "OV-708",
        title: "a mark and nothing else",
        page: "A row holds a mark and nothing more. It may be an opening that nobody measured, so it is not left out in silence. Fill the row, or take\n\
it out. A row with words in the mark's column alone is taken for a note when it begins with a word such as \"note\" or \"key\" or has four\n\
words or more.",
    },
    Entry {
        code: "OV-709",
        title: "a ditto mark with nothing to repeat",
        page: "A ditto mark (\", ″, 〃, ditto, do., same) repeats the cell above in its column, within one tab or file. In the first row there is\n\
nothing above, and a mark that names a row cannot be repeated. Write the value.",
    },
    Entry {
        code: "OV-710",
        title: "a blank where a value is needed",
        page: "The column must be filled. Blank is never zero: fill the cell, or say in the sheet what a blank means, `if blank 0 %` with a note why,\n\
or that it may stay unknown, `optional`.",
    },
    Entry {
        code: "OV-711",
        title: "n/a is not allowed here",
        page: "\"Not applicable\" is something else than blank, and the sheet has to say whether it may be: `may be n/a`, or `if n/a 0 in`.",
    },
    Entry {
        code: "OV-712",
        title: "not a value of this kind",
        page: "The cell cannot be read as what the column holds. Measures may be written 30 1/2, 30-1/2, 30.5, 30½, 2'-6 1/2\", 2 ft 6 1/2 in or\n\
775 mm; a bare number is in the unit of the column or of its heading. The message says what was found and what is taken.",
    },
    Entry {
        code: "OV-713",
        title: "more than one meaning",
        page: "The cell could mean two things, and the difference is money: 2'6 may be 2 ft 6 in or a slip; 2-6 may be 2 ft 6 in, or from 2 to 6;\n\
2/8 may be a quarter inch or 2 ft 8 in; ~30 and 30? are doubts. Nothing is guessed. Write one of the readings offered.",
    },
    Entry {
        code: "OV-714",
        title: "two numbers in one cell",
        page: "The cell holds two numbers, such as 30 x 40 or 30 / 32. Put each one in its own column; for a pair of unlike leaves, make two rows.",
    },
    Entry {
        code: "OV-715",
        title: "a comma that may mean two things",
        page: "30,5 is thirty and a half in some countries; 1,234 is a thousand and more in others. Write a point, or declare the comma for the whole\n\
survey in the job: decimal comma.",
    },
    Entry {
        code: "OV-716",
        title: "a unit of another kind",
        page: "The cell names a unit that is not known, or one that measures something else than the column: a weight in a column of lengths, or\n\
another currency than the job's. Any unit of the column's kind may be used: 775 mm in a column of inches is converted and noted.",
    },
    Entry {
        code: "OV-717",
        title: "outside the plausible range",
        page: "The column says between which values a measure must lie, both ends allowed. A value outside is most often a slip of the pen or of the\n\
unit. Mend the cell, or widen the range in the sheet if the value is real.",
    },
    Entry {
        code: "OV-718",
        title: "not whole",
        page: "The column holds whole numbers or counts, and the cell holds a part of one.",
    },
    Entry {
        code: "OV-719",
        title: "a small number in a percent column",
        page: "In a column of percents 35 and 35 % mean the same. A bare 0.35 may mean 0.35 % or 35 %, so it is refused. Write the percent sign, or\n\
let the workbook show the cell as a percent. Old workbook formats do not say how a number is shown; there bare numbers under 2 are refused.",
    },
    Entry {
        code: "OV-720",
        title: "the workbook made a date of it",
        page: "Something like 3/8 or 6-1/4 was typed, and the workbook took it for a date and keeps only that. What was typed is lost, so it has to be\n\
typed again: first format the column as text.",
    },
    Entry {
        code: "OV-721",
        title: "an error in the workbook",
        page: "The cell shows an error such as #N/A or #REF!. Mend the formula behind it, or type the value.",
    },
    Entry {
        code: "OV-722",
        title: "a formula without its result",
        page: "The workbook holds a formula in this cell, but not what it came to; some programs save workbooks so. A missing number must not pass\n\
for a blank. Open the workbook in a spreadsheet program, let it calculate, and save it.",
    },
    Entry {
        code: "OV-723",
        title: "neither yes nor no",
        page: "Taken for yes are yes, y, true, x and 1; for no are no, n, false and 0; in any case. A question mark or \"maybe\" is not an answer: leave\n\
the cell blank and say in the sheet what a blank means.",
    },
    Entry {
        code: "OV-724",
        title: "no such choice",
        page: "The cell holds none of the labels of the column's choice nor their spellings. Mend the cell, or add the spelling to the choice in the\n\
sheet: one of pair (\"P\", \"double\").",
    },
    Entry {
        code: "OV-725",
        title: "not a day",
        page: "A day is written 2026-06-01, or with the name of the month. 6/1/2026 is June in one country and January in another, so it is refused\n\
with both readings.",
    },
    Entry {
        code: "OV-726",
        title: "merged cells",
        page: "A merged area holds one value over several rows. For a wing or a kind that is what it says, and the value is read for each row and\n\
noted. A measure, or a mark, may be of the first row or of all, so it is refused. Unmerge the cells and fill each one.",
    },
    Entry {
        code: "OV-728",
        title: "text too long",
        page: "The text is longer than a cell of a workbook can hold, or far too long for a number. In a CSV file a quote that closes too late is the\n\
usual cause.",
    },
    Entry {
        code: "OV-729",
        title: "repeats an unreadable cell",
        page: "A ditto mark repeats the cell above, and that one cannot be read. Mend the cell above and this one is mended with it.",
    },
    Entry {
        code: "OV-730",
        title: "nothing has this mark",
        page: "A row of a table that hangs below another names a mark that the other table does not have. Its defects or members belong to no opening\n\
and would be lost or misplaced. Mend the mark.",
    },
    Entry {
        code: "OV-732",
        title: "nothing to set aside",
        page: "The mark that is to be set aside is in no table of the survey. A wish that hits nothing is refused, since the row that was meant would stay in.",
    },
    Entry {
        code: "OV-733",
        title: "set aside with the row above",
        page: "The row belongs to one that was set aside in the table above, so it is set aside too and listed with it.",
    },
    Entry {
        code: "OV-734",
        title: "rows were set aside",
        page: "A note: rows of the survey were left out by --set-aside or --set-aside-unreadable, so their work, material and cost are in no figure.\n\
Every output says so: reports and pages at their head, tables in CSV by the column \"rows set aside\", JSON under \"set_aside\" and among\n\
the messages.",
    },
    Entry {
        code: "OV-735",
        title: "not all of the survey is read",
        page: "A note: a column of the sheet is under no heading of the file, so every row has what the sheet says for a blank; or the file has\n\
headings that the sheet does not ask for; or rows were skipped as totals or notes. Each may be meant, and each may be a slip: a count under\n\
the heading \"Broken panes\" is lost when the sheet asks for \"Cracked\". `ovolo survey` lists all of it.\n\n\
  wrong   cracked  count of lite  if blank 0 lite                          (the file says Broken panes)\n\
  right   cracked  count of lite  if blank 0 lite  headed \"Broken panes\"",
    },
    Entry {
        code: "OV-736",
        title: "texts that differ only in case or blanks",
        page: "A note: the texts of a column part rows into groups or are compared, and two of them differ only in capitals or blanks. They count as\n\
two: a wing written Front and FRONT is two wings, with two set-ups. Write them alike in the survey, or make the column one of a choice,\n\
which takes any case.\n\n\
  wrong   wing  text                     (Front, front)\n\
  right   wing  one of front, rear",
    },
];
