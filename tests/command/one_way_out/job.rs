//! A job in which each text from outside that a file can hold does harm. Sheets refuse hidden signs, so theirs are formulas and markup.

use std::path::Path;

/// Signs that steer a terminal, hidden ones, and one that turns the direction of reading.
pub(super) const HARM: &str = "\u{1b}[2J\u{7}\u{9b}31m\u{202e}\u{2067}\u{2028}\u{7f}";

pub(super) const RULES: &str = include_str!("rules.ovo");
pub(super) const PAPERS: &str = include_str!("papers.ovo");
pub(super) const JOB: &str = include_str!("job.ovo");

/// A picture of one point.
const PIXEL: &[u8] = include_bytes!("pixel.png");

/// Parts and a board to cut them from.
const INSTANCE: &str = r#"{"kind": "boards", "unit": "1/16 in", "crosscut_kerf": 2, "rip_kerf": 3,
 "parts": [{"mark": PART, "length": 784, "w": 36, "t": 28, "count": 2}],
 "boards": [{"mark": BOARD, "length": 1700, "w": 74, "t": 28, "cost": 1}]}"#;

/// Mark, wing and note of the openings.
const OPENINGS: [[&str; 3]; 3] = [
    ["=1+1", "@wing", "<script>alert(1)</script>"],
    ["+A2", "-wing", "=HYPERLINK(\"x\")"],
    ["<td>", "＝wide", "plain"],
];

pub(super) fn mark(text: &str) -> String {
    format!("{text}{HARM}")
}

/// A field of CSV that ends in hidden signs.
fn field(text: &str) -> String {
    format!("\"{}\"", mark(text).replace('"', "\"\""))
}

pub(super) fn job(folder: &Path) {
    let put = |name: &str, text: &str| {
        std::fs::write(folder.join(name), text).expect("a file of the job");
    };
    put("rules.ovo", RULES);
    put("papers.ovo", PAPERS);
    put("job.ovo", JOB);
    let heading = format!(
        "Mark,Wing,Note,Kind,Photo,Width,Height,{}\n",
        field("=odd<th>")
    );
    let mut survey = heading.clone();
    for texts in OPENINGS {
        let cells = texts.map(field);
        survey.push_str(&format!(
            "{},=P<b>,{},,,x\n",
            cells.join(","),
            field("=pic<b>")
        ));
    }
    // Sheets can name no mark with hidden signs, so one row is decided by hand under a mark without.
    survey.push_str("=C3,@plain,=x,odd,p<1>,31,61,x\n");
    put("survey.csv", &survey);
    put("faulty.csv", &survey.replace(",,,x\n", ",=wide<b>,,x\n"));
    let faulty = JOB.replace("survey.csv", "faulty.csv");
    put("faulty.ovo", &faulty);
    put("faulty-book.ovo", &JOB.replace("survey.csv", "faulty.xlsx"));
    std::fs::write(folder.join("faulty.xlsx"), workbook()).expect("a workbook");
    let moved =
        format!("{JOB}change pace to 1 h because \"=moved<b>\" by \"@mover\" on 2026-03-02\n");
    put("moved.ovo", &moved);
    put("tidied.ovo", JOB);
    // As the form comes back: what starts a formula has an apostrophe before it.
    let form = "Mark,Member,Proposed,Reason,Answer,By,Date,Why\n";
    let row = "'=C3,\"'=rail<b>, @stile\",mend,,keep";
    put(
        "filled.csv",
        &format!("{form}{row},=who<i>,2026-03-09,=because<i>\n"),
    );
    let hidden = field("=because<i>");
    put(
        "refused.csv",
        &format!("{form}{row},{hidden},{hidden},{hidden}\n"),
    );
    let order = "Goods,Quantity,Pack,Pack size,Unit,Price each,Currency,Priced on,Lead time\n";
    let lead = field("=lead<i>");
    put(
        "order.csv",
        &format!("{order}pine,,,,board foot,9,USD,2026-03-09,{lead}\n"),
    );
    put(
        "strange-order.csv",
        &format!(
            "{order}{hidden},{hidden},{hidden},{hidden},{hidden},{hidden},{hidden},{hidden},{lead}\n"
        ),
    );
    let named = |text: &str| serde_json::to_string(&mark(text)).expect("JSON");
    put(
        "instance.json",
        &INSTANCE
            .replace("PART", &named("=part<b>"))
            .replace("BOARD", &named("@board<b>")),
    );
    let mut defects = "Item,Mark,Long,Said\n".to_owned();
    let mut boards = "Board,Long,Wide,Thick\n".to_owned();
    let mut weights = "key,weight (lb)\n=x,4\n".to_owned();
    for (at, [mark, _, note]) in OPENINGS.into_iter().enumerate() {
        let (item, said, board) = (format!("=d{at}<b>"), "@said<b>", format!("=b{at}<b>"));
        defects.push_str(&format!(
            "{},{},3 in,{}\n",
            field(&item),
            field(mark),
            field(said)
        ));
        boards.push_str(&format!("{},8 ft,6 in,1 in\n", field(&board)));
        weights.push_str(&format!("{},{}\n", field(note), at + 1));
    }
    put("defects.csv", &defects);
    put("boards.csv", &boards);
    put("weights.csv", &weights);
    let mut prices = "resource,unit,price,supplier,source,date,note\n".to_owned();
    for (resource, unit, price) in [("pine", "bf", 8), ("putty", "lb", 3), ("lift", "day", 90)] {
        let text = field("=supplier<p>");
        prices.push_str(&format!(
            "{resource},{unit},{price},{text},{text},2020-01-01,{text}\n"
        ));
    }
    put("prices.csv", &prices);
    std::fs::create_dir(folder.join("=pictures<b>")).expect("a folder");
    std::fs::write(folder.join("=pictures<b>/p<1>.png"), PIXEL).expect("a picture");
}

/// The faulty survey as a workbook, whose cells may hold signs that turn the direction of reading.
fn workbook() -> Vec<u8> {
    let mut book = rust_xlsxwriter::Workbook::new();
    let sheet = book.add_worksheet();
    sheet.set_name("=tab\u{202e}<b>").expect("a name");
    let heading = ["Mark", "Wing", "Note", "Kind", "Photo", "Width", "Height"];
    for (column, text) in (0..).zip(heading) {
        sheet.write_string(0, column, text).expect("a cell");
    }
    for (row, [mark, wing, note]) in (1..).zip(OPENINGS) {
        let turned = |text: &str| format!("{text}\u{202e}");
        let cells = [turned(mark), turned(wing), turned(note), "=P<b>".to_owned()];
        for (column, text) in (0..).zip(cells) {
            sheet.write_string(row, column, text).expect("a cell");
        }
        sheet
            .write_string(row, 5, "=wide\u{202e}<b>")
            .expect("a cell");
    }
    book.save_to_buffer().expect("a workbook")
}
