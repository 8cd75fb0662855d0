//! Codes for files and commands.

use super::Entry;

/// In order of code.
pub(super) const ENTRIES: &[Entry] = &[
    Entry {
        code: "OV-001",
        title: "a sheet cannot be opened",
        page: r#"A sheet that was named on the command line, or by `use` in another sheet, is not there or cannot be read.
The path of a `use` counts from the folder of the sheet it stands in, not from where the command is run.
Nothing is worked out with a part of the rules missing: the total would look whole and be short.

  wrong   use "sheets/shop.ovo"        (in a file that lies in the folder sheets)
  right   use "shop.ovo""#,
    },
    Entry {
        code: "OV-002",
        title: "a file of the job cannot be opened",
        page: r#"A survey or price book that the job names is not there, is a folder, or may not be read. Paths count from the folder of
the job sheet. Nothing is worked out without it: a survey left out is a wing left out of the bid.

  wrong   survey opening from "surveys/west.csv"        (the file lies beside the job sheet)
  right   survey opening from "west.csv""#,
    },
    Entry {
        code: "OV-003",
        title: "a file cannot be written",
        page: r#"A file that was to be written is an input of the job, is named for two outputs, may only be read, or is no ordinary file. This is
looked at before any work is done, and nothing is written then. A name that is a link stands for the file behind it. A file that was
there keeps its mode; it is replaced whole or not at all.

  wrong   ovolo survey job.ovo --marked survey.csv        (the survey that is being read)
  right   ovolo survey job.ovo --marked for-the-surveyor.xlsx"#,
    },
    Entry {
        code: "OV-010",
        title: "empty file",
        page: "The file has nothing in it, or the workbook has no visible tab with cells.\n\
A survey or price book needs a heading row and rows below it. Check that the right file was saved.",
    },
    Entry {
        code: "OV-011",
        title: "not a text file",
        page: "A file that was taken for CSV holds zero bytes, which text never does. It is a file of another program, or UTF-16 without its\n\
mark. Open it in the program that wrote it and save it as CSV UTF-8 or as an XLSX workbook.",
    },
    Entry {
        code: "OV-012",
        title: "the workbook cannot be read",
        page: "The file begins like a workbook, but it is cut off, damaged, or of a kind that holds no cells. XLSX, XLSM, XLSB, XLS and ODS are\n\
read; macros in them are never run and links to other files are never followed. Open it in a spreadsheet program and save it again, or\n\
save the tab as CSV UTF-8.",
    },
    Entry {
        code: "OV-013",
        title: "the workbook is too large",
        page: "A workbook is held in memory while it is read, so its size is capped. Save the tab as CSV UTF-8: a CSV file is read piece by piece\n\
and may be of any size.",
    },
    Entry {
        code: "OV-014",
        title: "two encodings in one file",
        page: "Lines of the file hold letters in UTF-8 and a later line holds bytes that are not UTF-8. This happens when text of two programs is\n\
pasted together. Reading on would garble signs such as ½ or ″, so nothing is read. Mend the line that is named and save as CSV UTF-8.",
    },
    Entry {
        code: "OV-015",
        title: "the workbook unpacks too large",
        page: "A workbook is a packed archive. This one says that it unpacks to far more than any survey needs, as files made to exhaust a\n\
computer do. If it is what it should be, save the tab as CSV UTF-8.",
    },
    Entry {
        code: "OV-016",
        title: "the workbook is locked",
        page: "The workbook can be opened only with a password. Open it and save a copy without the password.",
    },
    Entry {
        code: "OV-017",
        title: "the file is no table",
        page: "The file's name says that it is a table, but it holds a web page, a PDF or another document; some programs export such files under\n\
the name of a workbook. Open it in a spreadsheet program and save it as XLSX or as CSV UTF-8.",
    },
    Entry {
        code: "OV-018",
        title: "no such tab",
        page: "The job names a tab that the workbook does not have. Tabs are compared without case and blanks. The message lists the tabs there are.",
    },
    Entry {
        code: "OV-019",
        title: "several tabs could hold the table",
        page: "More than one visible tab has a heading row that names the columns of the sheet, so which of them to read would be a guess. Name the\n\
tab, or all tabs when each holds a part of the survey, say a wing: survey opening from \"survey.xlsx\" tab \"West\", \"East\".",
    },
    Entry {
        code: "OV-020",
        title: "the file could not be read to its end",
        page: "The system reported a failure while the file was being read, as when a stick is pulled or a network folder goes away. Nothing was\n\
worked out from the part that was read.",
    },
    Entry {
        code: "OV-021",
        title: "stopped",
        page: "The reading was stopped by the user before its end. Nothing was worked out from the part that was read.",
    },
    Entry {
        code: "OV-022",
        title: "a quote never closes",
        page: "A cell of a CSV file that begins with a quote goes on to the next quote, over commas and line ends. Here none follows, so the rest\n\
of the file would be one cell. A cell that begins with a ditto or inch mark is written with the mark doubled and the whole in quotes: a lone\n\
ditto mark is four quotes. Inch marks within or at the end of a cell need nothing: 2'-6 1/2\" is read as it stands.",
    },
    Entry {
        code: "OV-023",
        title: "a quote in the wrong place",
        page: "A cell of a CSV file that begins with a quote ends with one, and a comma or line end must follow. Text after the closing quote, or a\n\
quoted cell that itself begins and ends with a comma or line end, mostly means that lone ditto marks opened and closed a cell and swallowed\n\
what stood between them, perhaps whole rows. Write a lone ditto mark as four quotes, or the word ditto.",
    },
    Entry {
        code: "OV-024",
        title: "a row of another length",
        page: "A row of a CSV file has more or fewer cells than the heading row. A comma inside a cell that is not in quotes, or one that was lost,\n\
shifts all cells behind it under the wrong headings, so such a row is never read. Blank cells too many at the end are taken.",
    },
    Entry {
        code: "OV-026",
        title: "a hidden tab is read",
        page: "A note: the tab that the job names is hidden in the workbook. It is read because it is named; check that it is the one meant.",
    },
    Entry {
        code: "OV-027",
        title: "read as Windows-1252",
        page: "A note: the file holds bytes that are not UTF-8 and was taken for Windows-1252, the old encoding of western Windows machines. If\n\
letters with accents or signs such as ½ look wrong in the report, save the file as CSV UTF-8.",
    },
    Entry {
        code: "OV-028",
        title: "too many rows to mark",
        page: "A marked copy is a workbook, and a workbook holds 1,048,576 rows. The survey has more. Work from the messages, which name every kind of\n\
fault with its first cells, or split the survey into several files.",
    },
    Entry {
        code: "OV-029",
        title: "the marked copy could not be written",
        page: "The survey was read, but the marked copy could not be made a workbook. The message says why. The survey itself is untouched.",
    },
    Entry {
        code: "OV-031",
        title: "hidden rows or columns",
        page: "A note: the tab has hidden rows or columns among those that are read. They are read like the others: hiding, or a filter that was left\n\
on, changes what is seen, not what is there. Show all rows and check that they belong to the survey. Only XLSX and XLSM files tell of it.",
    },
    Entry {
        code: "OV-032",
        title: "a hidden tab is not read",
        page: "A note: the workbook has a hidden tab whose heading row names the columns of the sheet, with rows below it. Hidden tabs are read only\n\
when the job names them: survey opening from \"survey.xlsx\" tab \"West\". Look whether the tab is an old copy or a part of the survey.",
    },
];
