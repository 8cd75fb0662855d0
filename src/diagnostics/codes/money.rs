//! Codes for prices and money.

use super::Entry;

/// In order of code.
pub(super) const ENTRIES: &[Entry] = &[
    Entry {
        code: "OV-800",
        title: "a price book without its columns",
        page: "A price book needs the headings resource, unit and price in one row; the others (pack, supplier, chosen, source, date, note) are\n\
               optional and may stand in any order. Headings are compared without case and blanks, and a unit in brackets behind one is allowed:\n\
               Price (USD).",
    },
    Entry {
        code: "OV-801",
        title: "a price row without a resource",
        page: "A row of the price book has a price or a unit but names no resource, so nobody can say what it is the price of.\n\
               Write the resource's name as the sheets have it, or clear the row.",
    },
    Entry {
        code: "OV-802",
        title: "a price that nothing uses",
        page: "The price book lists a resource that no sheet of the job declares. The run goes on without it.\n\
               A price book kept for the whole shop may well list more than one job needs. Look twice when a name is offered: a misspelt row\n\
               leaves the resource that was meant without a price.",
    },
    Entry {
        code: "OV-803",
        title: "a price that is not read",
        page: "The price cell is blank, or holds something else than one amount of zero or more in the job's currency.\n\
               Good: 12.50   $12.50   1,250.00 USD   0\n\
               Refused: a blank (it is never taken for zero), 12-14 (two amounts), ~12 (a guess), 12.50 EUR in a job that counts in USD.\n\
               What a thing sells back for is a take of less than nothing, not a price below zero.",
    },
    Entry {
        code: "OV-804",
        title: "a price without a known unit",
        page: "A price is for something: a board foot, an hour, a box. The unit cell is blank or holds a word that is neither a unit, nor a\n\
               counted noun of the job, nor the word of the pack the resource is bought in.\n\
               Good: bf   sq ft   USD per bf   h   point   box (where the sheet or the pack column says what a box holds)",
    },
    Entry {
        code: "OV-805",
        title: "a price in the wrong unit",
        page: "The price is for a unit of another kind than the resource is counted in: glass counted in square feet cannot be priced by the\n\
               pound, and no factor is guessed.\n\
               Any unit of the same kind will do and is converted exactly: sq in, sq ft, sq yd, sq m.\n\
               If the supplier sells by another measure, work the price out for a unit of the resource's kind and note how in the note column.",
    },
    Entry {
        code: "OV-806",
        title: "a pack that is not read",
        page: "The pack column says in what a resource is bought and how much one holds, in a unit of the resource's kind.\n\
               Good: boxes of 100 point   5 lb tub   sheet of 32 sq ft   100\n\
               It takes the place of the pack in the sheet. A blank leaves the sheet's pack as it is.",
    },
    Entry {
        code: "OV-807",
        title: "several prices and no choice",
        page: "A resource stands in the price book more than once. The cheapest is not taken on its own: delivery, quality and credit are yours to weigh.\n\
               Add a column headed \"chosen\" and write yes in the row to be used. The others are kept and shown as passed over.",
    },
    Entry {
        code: "OV-808",
        title: "a choice that is not read",
        page: "Under \"chosen\" stands something else than yes, no or nothing. Write yes in the row of the supplier to be used.",
    },
    Entry {
        code: "OV-809",
        title: "a price worked out by a workbook",
        page: "The price cell holds a formula or a number with more than 15 digits, such as 12.299999999999999 where 12.30 was meant. Workbooks work in\n\
               binary and cut the last digits. The price is taken as it stands; type it, or round it in the workbook, to be sure of the cent.",
    },
    Entry {
        code: "OV-810",
        title: "a price date that is not read",
        page: "Dates of a price book are written year-month-day, 2026-05-31. 5/6/2026 is May to one reader and June to another, so it is not read.\n\
               The run goes on; the price counts as one without a date.",
    },
    Entry {
        code: "OV-811",
        title: "a price book in another money",
        page: "The heading of the prices names another money than the job's. A job has one money and nothing is exchanged: work the prices into it\n\
at the rate you would pay, and say the rate and its day in the note column.\n\n\
  wrong   Price (EUR)         in a job with: money USD\n\
  right   Price (USD)",
    },
    Entry {
        code: "OV-820",
        title: "a resource without a price",
        page: "The job uses a resource and neither the price book, nor a pay block, nor a change names its price. Nothing is priced at zero in silence.\n\
               Add a row to the price book, write a pay block for a labor resource, or write 0 where it really costs nothing.",
    },
    Entry {
        code: "OV-821",
        title: "part of a counted thing",
        page: "The take lines of a counted thing add up to a part of one, such as 1306 1/3 points. Counts may be fractional inside a formula, but what\n\
               is reported and bought is whole, and the sheet has to say where it is rounded.\n\
               take glazing_point  edge / (4 in per point) rounded up to 1 point  for \"Glazing\"\n\
               Rounding each opening up buys more than rounding once for the job; both can be written.",
    },
    Entry {
        code: "OV-822",
        title: "less than nothing is used",
        page: "The take lines of a resource add up to less than nothing over the whole job. Single lines may be below zero, such as glass that is\n\
               kept and used again, but the job cannot buy less than nothing. Look for a sign, or for the same credit taken twice.",
    },
    Entry {
        code: "OV-823",
        title: "a margin of all or more",
        page: "A margin is a share of the selling price, so it stays under 100 %: at 25 % margin a cost of 10,000 sells for 13,333.33.\n\
               A share added to the cost is a mark-up: at 25 % mark-up the same cost sells for 12,500.00. Write mark-up where that is meant.",
    },
    Entry {
        code: "OV-824",
        title: "an amount with too many digits",
        page: "An amount or a price grew past what can be written down as cents. Look for a price or a quantity with a slipped decimal point.",
    },
    Entry {
        code: "OV-825",
        title: "a wage and a price",
        page: "A labor resource has a pay block and also a price in the price book. The pay block is used, as it shows how the rate is made up.\n\
               Remove one of the two so that nobody wonders.",
    },
    Entry {
        code: "OV-826",
        title: "a line below zero on some rows",
        page: "A note: a take line adds up to more than nothing over the job and is less than nothing on some of its rows, so those rows lessen what\n\
the others use: an opening of 30 in under (wide / 1 in - 40) * 1 h takes ten hours from the rest. A line that is below zero throughout is a\n\
credit and is not told of.\n\n\
  wrong   take joiner  (wide / 1 in - 40) * 1 h                      for \"Making\"\n\
  right   take joiner  larger(0 h, (wide / 1 in - 40) * 1 h)         for \"Making\"",
    },
    Entry {
        code: "OV-827",
        title: "a final figure rounded to nothing",
        page: "A note: the step of the last rounding is greater than the total, and rounding down leaves 0.00. The lines and charges above it\n\
               still say what the job costs. Take a smaller step.\n\n\
               \x20 wrong   final rounded down to 10000 USD      (on a job of 8,000 USD)\n\
               \x20 right   final rounded down to 10 USD",
    },
    Entry {
        code: "OV-840",
        title: "no table of this name",
        page: "A single table was asked for by a name that none has. The names are those listed with the message: totals, buy-list, cost-lines, charges,\n\
               by-phase, by-trade and so on; a column of `split by` gives a table by its own name, such as by-wing.",
    },
    Entry {
        code: "OV-841",
        title: "a workbook that cannot be made",
        page: "A table is longer than a workbook can hold (1,048,576 rows) or the file could not be put together. Write the long table as CSV,\n\
               or leave out the openings and the treatment schedule.",
    },
    Entry {
        code: "OV-890",
        title: "totals that do not foot (a fault of this program)",
        page: "After every run the costs by phase, by split column, by trade, by class, by resource and by opening are added up again and compared to the\n\
               cent. This time two of them differ, which is a fault of this program and not of your sheets. Nothing is printed, since no figure can be\n\
               trusted. Please report it with the sheets, the survey and the price book.",
    },
    Entry {
        code: "OV-891",
        title: "a failed row in the take-off (a fault of this program)",
        page: "A row whose amount could not be worked out should have been told with its own message before anything was added up. That it got as far\n\
               as the take-off is a fault of this program. Please report it with the sheets and the survey.",
    },
];
