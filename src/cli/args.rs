//! Arguments as typed.

use super::output;
use clap::{CommandFactory, Parser, Subcommand};
use std::process::ExitCode;

/// An estimating engine for people who repair and reproduce historic wooden windows.
#[derive(Debug, Parser)]
#[command(
    name = "ovolo",
    version,
    about,
    after_help = format!(
        "A job is a sheet that names its survey, its prices and the sheets it uses. `-` as a sheet is standard input.\n\nExit codes:\n{}",
        super::exit::lines()
    )
)]
pub struct Args {
    #[command(flatten)]
    pub common: Common,
    #[command(subcommand)]
    pub command: Command,
}

/// Options of every command.
#[derive(Debug, Clone, clap::Args)]
pub struct Common {
    /// Print messages and results as JSON
    #[arg(long, global = true)]
    pub json: bool,
    /// Show every message; without it the first 20
    #[arg(long, global = true)]
    pub all_messages: bool,
    /// The day of the job instead of the one its block says, such as 2026-03-21; no command reads the clock
    #[arg(long, global = true, value_name = "DATE", value_parser = day)]
    pub issued: Option<String>,
    /// Width of tables in characters; the window's, or 80, when not given
    #[arg(long, global = true, value_name = "N", value_parser = clap::value_parser!(u16).range(40..=400))]
    pub width: Option<u16>,
}

/// Commands.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Make a new job folder on the shipped sheets, with a survey form to fill in
    #[command(
        after_help = "Examples:\n  ovolo start mill-office\n  ovolo start first-look --small && ovolo estimate first-look/job.ovo"
    )]
    Start(StartArgs),
    /// Check sheets before anything runs
    #[command(after_help = "Example: ovolo proof sheets/glazing.ovo")]
    Proof(SheetArgs),
    /// Read the survey of a job and report on its cells
    #[command(after_help = "Example: ovolo survey job.ovo --marked for-the-surveyor.xlsx")]
    Survey(SurveyArgs),
    /// Work a job: take-off, buy list, cost
    #[command(
        after_help = "Examples:\n  ovolo estimate job.ovo\n  ovolo estimate job.ovo --openings --treatment\n  ovolo estimate job.ovo --workbook estimate.xlsx --page estimate.html"
    )]
    Estimate(EstimateArgs),
    /// Work the alternates of a job side by side
    #[command(
        after_help = "Examples:\n  ovolo weigh job.ovo\n  ovolo weigh job.ovo --flip glaze_pace --with \"All new\"\n  ovolo weigh job.ovo --flip \"price of old_glass\" --between \"4 USD per sq ft\" --and \"20 USD per sq ft\" --with \"Modern glass\"\n  ovolo weigh job.ovo --over glaze_pace --steps 6\n  ovolo weigh job.ovo --rank\n  ovolo weigh job.ovo --years 30 --discount \"3 % real\""
    )]
    Weigh(WeighArgs),
    /// Say how long a job takes, in what order, and when each crew is where
    #[command(
        after_help = "Examples:\n  ovolo calendar job.ovo\n  ovolo calendar job.ovo --bars calendar.svg\n  ovolo calendar job.ovo --csv calendar-weeks"
    )]
    Calendar(CalendarArgs),
    /// List the papers of a job and for whom each is; show one, or write them
    #[command(
        after_help = "Examples:\n  ovolo papers job.ovo\n  ovolo papers job.ovo cut_papers\n  ovolo papers job.ovo --to issue\n  ovolo papers job.ovo --csv shop_papers/cut_list"
    )]
    Papers(PapersArgs),
    /// List the prices that are missing, old or not used, and write the rows to fill in
    #[command(
        after_help = "Examples:\n  ovolo prices job.ovo\n  ovolo prices job.ovo --write to-fill-in.csv"
    )]
    Prices(PricesArgs),
    /// Ask the reviewing authority about each treatment with a form, and read its answers back as a sheet of changes
    #[command(
        after_help = "Examples:\n  ovolo answers job.ovo --form answers.csv\n  ovolo answers job.ovo --read answers.csv --to answers.ovo"
    )]
    Answers(AnswersArgs),
    /// Show the tree behind a number
    #[command(
        after_help = "Examples:\n  ovolo why job.ovo lite_w W-014\n  ovolo why job.ovo glazier\n  ovolo why job.ovo total --depth 2\n  ovolo why job.ovo --against monday.json\n  ovolo why job.ovo --against bid.json --openings"
    )]
    Why(WhyArgs),
    /// Plan the cuts of boards, sheets of glass or bars, with a bound that is proved
    #[command(
        after_help = "Examples:\n  ovolo cut --instance boards.json\n  ovolo cut --instance boards.json -o plan.json --svg plan.svg\n  ovolo cut --instance boards.json --check plan.json\n  ovolo cut job.ovo --resource heart_pine --instance boards-on-hand.json -o plan.json"
    )]
    Cut(CutArgs),
    /// Run the worked examples kept in sheets
    #[command(after_help = "Example: ovolo trial sheets/*.ovo")]
    Trial(SheetArgs),
    /// Print sheets in standard form
    #[command(after_help = "Example: ovolo tidy --in-place job.ovo")]
    Tidy(TidyArgs),
    /// List, print or copy the shipped sheets
    #[command(
        after_help = "Examples:\n  ovolo library\n  ovolo library condition.ovo\n  ovolo library --copy my-sheets"
    )]
    Library(LibraryArgs),
    /// Explain a message code
    #[command(after_help = "Example: ovolo code OV-301")]
    Code(CodeArgs),
    /// Print completions for a shell, or the manual page
    #[command(hide = true)]
    Shell(ShellArgs),
}

/// Arguments of `start`.
#[derive(Debug, clap::Args)]
pub struct StartArgs {
    /// Folder to make; it must not exist, or be empty
    pub folder: String,
    /// A small example of five openings on rules of its own, ready to run, instead of a job on the shipped sheets
    #[arg(long)]
    pub small: bool,
}

/// Sheets to work on.
#[derive(Debug, clap::Args)]
pub struct SheetArgs {
    /// Sheets, each by itself; `-` is standard input
    #[arg(required = true, value_name = "SHEET")]
    pub sheets: Vec<String>,
}

/// Rows to leave out of a run.
#[derive(Debug, Clone, Default, clap::Args)]
pub struct AsideArgs {
    /// Leave out the row with this mark; every output says so
    #[arg(long, value_name = "MARK")]
    pub set_aside: Vec<String>,
    /// Leave out every row with a cell that cannot be read; every output says so
    #[arg(long)]
    pub set_aside_unreadable: bool,
}

/// Arguments of `survey`.
#[derive(Debug, clap::Args)]
pub struct SurveyArgs {
    /// The job sheet
    pub job: String,
    /// Write a copy of the survey as a workbook with the faulty cells colored and commented
    #[arg(long, value_name = "FILE")]
    pub marked: Option<String>,
    #[command(flatten)]
    pub aside: AsideArgs,
}

/// Arguments of `estimate`.
#[derive(Debug, Clone, clap::Args)]
pub struct EstimateArgs {
    /// The job sheet
    pub job: String,
    /// Work this alternate instead of the job as decided
    #[arg(long, value_name = "NAME")]
    pub alternate: Option<String>,
    /// Show the cost of each opening
    #[arg(long)]
    pub openings: bool,
    /// Show what was decided for each opening, and why
    #[arg(long)]
    pub treatment: bool,
    /// Show givens, sources, blanks assumed and roundings
    #[arg(long)]
    pub assumptions: bool,
    /// Show every cost line and how labor rates are made up
    #[arg(long)]
    pub lines: bool,
    /// Take off amounts alone: no price book is read, and no money is worked out
    #[arg(long, conflicts_with_all = ["record", "watch"])]
    pub quantities: bool,
    /// List every given and rule in force with its layer and what it replaced (with --csv as CSV); reads no survey
    #[arg(long, conflicts_with_all = ["set_aside", "set_aside_unreadable"])]
    pub in_force: bool,
    /// Print one table as CSV; without a name, list the names
    #[arg(long, value_name = "TABLE", num_args = 0..=1, default_missing_value = "")]
    pub csv: Option<String>,
    /// Write a workbook
    #[arg(long, value_name = "FILE")]
    pub workbook: Option<String>,
    /// Write a page for printing (HTML)
    #[arg(long, value_name = "FILE")]
    pub page: Option<String>,
    /// Write a record that a later run can be compared with: `ovolo why JOB --against FILE`
    #[arg(long, value_name = "FILE")]
    pub record: Option<String>,
    /// Work again whenever a sheet, survey or price book is saved
    #[arg(long)]
    pub watch: bool,
    #[command(flatten)]
    pub aside: AsideArgs,
}

/// Arguments of `prices`.
#[derive(Debug, clap::Args)]
pub struct PricesArgs {
    /// The job sheet
    pub job: String,
    /// Read an order that a supplier filled in (CSV or workbook): its prices as rows of a price book
    #[arg(long, value_name = "ORDER")]
    pub from: Option<String>,
    /// Write a price book with a row for each price that is missing, old or without a date; with --from, the rows that came back
    #[arg(long, value_name = "FILE")]
    pub write: Option<String>,
    #[command(flatten)]
    pub aside: AsideArgs,
}

/// Arguments of `answers`.
#[derive(Debug, clap::Args)]
#[command(group = clap::ArgGroup::new("way").args(["form", "read"]).required(true))]
pub struct AnswersArgs {
    /// The job sheet
    pub job: String,
    /// Write the form as CSV: a row for each treatment of a member that nobody has decided by hand
    #[arg(long, value_name = "FILE")]
    pub form: Option<String>,
    /// Read a form that was filled in: CSV or a workbook
    #[arg(long, value_name = "FILE", requires = "to")]
    pub read: Option<String>,
    /// Write the answers into this sheet, for the job to use
    #[arg(long, value_name = "SHEET", requires = "read")]
    pub to: Option<String>,
    #[command(flatten)]
    pub aside: AsideArgs,
}

/// Arguments of `calendar`.
#[derive(Debug, clap::Args)]
pub struct CalendarArgs {
    /// The job sheet
    pub job: String,
    /// Lay out this alternate instead of the job as decided
    #[arg(long, value_name = "NAME")]
    pub alternate: Option<String>,
    /// Print one table as CSV; their names when none is named
    #[arg(long, value_name = "TABLE", num_args = 0..=1, default_missing_value = "")]
    pub csv: Option<String>,
    /// Write the bars of the calendar as a drawing (SVG)
    #[arg(long, value_name = "FILE")]
    pub bars: Option<String>,
    #[command(flatten)]
    pub aside: AsideArgs,
}

/// Arguments of `papers`.
#[derive(Debug, clap::Args)]
pub struct PapersArgs {
    /// The job sheet
    pub job: String,
    /// Show this paper, or write it alone
    pub paper: Option<String>,
    /// Print the name of each paper, one a line
    #[arg(long, conflicts_with_all = ["to", "csv", "workbook"])]
    pub names: bool,
    /// Write each paper into this folder as PDF and as a page for the browser (HTML)
    #[arg(long, value_name = "DIR")]
    pub to: Option<String>,
    /// Make the PDF files for A4 instead of US letter; the pages are the same
    #[arg(long, requires = "to")]
    pub a4: bool,
    /// Make issue N in a folder of its own below DIR: its number on every page, copies of all it was made from, what changed since the last
    #[arg(long, value_name = "N", requires = "to", conflicts_with = "paper", value_parser = clap::value_parser!(u32).range(1..=9999))]
    pub issue: Option<u32>,
    /// Write the lists of PAPER as a workbook with live sums; without a paper every list and the cost, for the office
    #[arg(long, value_name = "FILE", conflicts_with_all = ["to", "csv"])]
    pub workbook: Option<String>,
    /// Compare with the record of an earlier issue, for papers that state changes; --issue takes that of the issue before
    #[arg(long, value_name = "RECORD")]
    pub against: Option<String>,
    /// Print one list as CSV; without a name, list the names
    #[arg(long, value_name = "LIST", num_args = 0..=1, default_missing_value = "", conflicts_with = "to")]
    pub csv: Option<String>,
    #[command(flatten)]
    pub aside: AsideArgs,
}

/// Arguments of `weigh`.
#[derive(Debug, clap::Args)]
#[command(group = clap::ArgGroup::new("study").args(["flip", "over", "rank"]))]
pub struct WeighArgs {
    /// The job sheet
    pub job: String,
    /// Find where two versions cost the same over the range of this given, or of `price of RESOURCE`
    #[arg(long, value_name = "GIVEN")]
    pub flip: Option<String>,
    /// Totals over the values of one given for every version, or of two givens for one version
    #[arg(long, value_name = "GIVEN[,GIVEN]", value_delimiter = ',')]
    pub over: Vec<String>,
    /// Order the givens by what their ranges do to the total
    #[arg(long)]
    pub rank: bool,
    /// Lower end to look at instead of the given's own
    #[arg(long, value_name = "VALUE", requires_all = ["and", "study"])]
    pub between: Option<String>,
    /// Upper end to look at instead of the given's own
    #[arg(long, value_name = "VALUE", requires = "between")]
    pub and: Option<String>,
    /// How close a flip is bracketed; chosen from the range when not said
    #[arg(long, value_name = "VALUE", requires = "flip")]
    pub within: Option<String>,
    /// Steps from low to high in a table over a given
    #[arg(long, value_name = "N", default_value_t = 4, value_parser = clap::value_parser!(u32).range(1..=100))]
    pub steps: u32,
    /// The version looked at, or the first of two; the job as decided when not said
    #[arg(long, value_name = "ALTERNATE", requires = "study")]
    pub of: Option<String>,
    /// The second of two versions; the first alternate when not said
    #[arg(long, value_name = "ALTERNATE", requires = "study")]
    pub with: Option<String>,
    /// Cost over the years by the `life` blocks of the job; implied by the three options below
    #[arg(long, group = "study")]
    pub life: bool,
    /// Years to look at instead of those of the job
    #[arg(long, value_name = "N", conflicts_with_all = ["flip", "over", "rank"], value_parser = clap::value_parser!(u32).range(1..=100))]
    pub years: Option<u32>,
    /// Discount instead of that of the job, such as "3 % real"
    #[arg(long, value_name = "RATE", conflicts_with_all = ["flip", "over", "rank"])]
    pub discount: Option<String>,
    /// Rise of prices instead of that of the job, such as "1 % real"
    #[arg(long, value_name = "RATE", conflicts_with_all = ["flip", "over", "rank"])]
    pub escalation: Option<String>,
    /// Print one table as CSV; without a name, list the names
    #[arg(long, value_name = "TABLE", num_args = 0..=1, default_missing_value = "")]
    pub csv: Option<String>,
    /// Write a workbook
    #[arg(long, value_name = "FILE")]
    pub workbook: Option<String>,
    /// Write a page with charts for printing (HTML)
    #[arg(long, value_name = "FILE")]
    pub page: Option<String>,
    #[command(flatten)]
    pub aside: AsideArgs,
}

/// Arguments of `why`.
#[derive(Debug, clap::Args)]
pub struct WhyArgs {
    /// The job sheet
    pub job: String,
    /// A column, given, rule, decision or resource; a phase, a charge, a class such as `labor`; `cost` or, when left out, `total`
    pub result: Option<String>,
    /// Mark of the opening, where the result is worked for each
    pub mark: Option<String>,
    /// Work it in this alternate
    #[arg(long, value_name = "NAME")]
    pub alternate: Option<String>,
    /// Levels of the tree to show, 40 at the most; as many as are usual for the result when not given
    #[arg(long, value_name = "N")]
    pub depth: Option<usize>,
    /// Parts of a sum to show one by one; the rest is one line
    #[arg(long, value_name = "N", default_value_t = 5)]
    pub parts: usize,
    /// Say why a figure is not what it was in this record: total, cost, labor, stock, glass, points or putty
    #[arg(long, value_name = "RECORD", conflicts_with_all = ["mark", "depth"])]
    pub against: Option<String>,
    /// With --against: the change by opening, at the prices of the record, as a change order states it
    #[arg(long, requires = "against", conflicts_with = "result")]
    pub openings: bool,
    /// With --against: print the parts as CSV
    #[arg(long, requires = "against")]
    pub csv: bool,
    #[command(flatten)]
    pub aside: AsideArgs,
}

/// Arguments of `cut`.
#[derive(Debug, clap::Args)]
pub struct CutArgs {
    /// The job sheet whose `cut` blocks are planned
    #[arg(required_unless_present = "instance")]
    pub job: Option<String>,
    /// Only this resource of the job
    #[arg(long, value_name = "NAME", requires = "job")]
    pub resource: Option<String>,
    /// Work this alternate instead of the job as decided
    #[arg(long, value_name = "NAME", requires = "job")]
    pub alternate: Option<String>,
    /// A JSON file with stock and settings in place of the job's `cut` blocks, and with parts where there is no job
    #[arg(long, value_name = "FILE")]
    pub instance: Option<String>,
    /// Write the plan here instead of where the `cut` block says
    #[arg(short, long, value_name = "PLAN", conflicts_with = "check")]
    pub output: Option<String>,
    /// Cut a plan again and check its bound, instead of making one
    #[arg(long, value_name = "PLAN")]
    pub check: Option<String>,
    /// Write the plan drawn to scale (SVG)
    #[arg(long, value_name = "FILE")]
    pub svg: Option<String>,
    /// Write the plan for the shop, as PDF where the name ends so, else as a page for the browser: drawn to scale, with every cut in order
    #[arg(long, value_name = "FILE")]
    pub page: Option<String>,
    /// Stages of cuts in glass instead of those of the file
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u8).range(2..=3))]
    pub stages: Option<u8>,
    /// Rounds of the search around the plan, for each thickness [default: those of the block, or 30]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u64).range(0..=100_000))]
    pub rounds: Option<u64>,
    /// Where the choices of the search begin [default: that of the block, or 1]
    #[arg(long, value_name = "N")]
    pub seed: Option<u64>,
    /// Print one table as CSV; without a name, list the names
    #[arg(long, value_name = "TABLE", num_args = 0..=1, default_missing_value = "")]
    pub csv: Option<String>,
}

/// Arguments of `tidy`.
#[derive(Debug, clap::Args)]
pub struct TidyArgs {
    /// Sheets; `-` is standard input
    #[arg(required = true, value_name = "SHEET")]
    pub sheets: Vec<String>,
    /// Write the tidy form back to the files
    #[arg(long)]
    pub in_place: bool,
    /// Only say which sheets are not tidy
    #[arg(long, conflicts_with = "in_place")]
    pub check: bool,
}

/// Arguments of `library`.
#[derive(Debug, clap::Args)]
pub struct LibraryArgs {
    /// Print this file; the list of all when left out
    pub name: Option<String>,
    /// Copy the file, or all of them, into this folder
    #[arg(long, value_name = "FOLDER")]
    pub copy: Option<String>,
}

/// Arguments of `code`.
#[derive(Debug, clap::Args)]
pub struct CodeArgs {
    /// A code such as OV-301; all codes when left out
    pub code: Option<String>,
}

/// Arguments of `shell`.
#[derive(Debug, clap::Args)]
pub struct ShellArgs {
    /// bash, zsh, fish, elvish, powershell or `man`
    pub what: String,
}

/// A day as sheets write it.
fn day(text: &str) -> Result<String, String> {
    match ovolo::units::read_point(text) {
        Some((ovolo::units::Scale::Day, _)) => Ok(text.to_owned()),
        _ => Err("write year-month-day, such as 2026-03-21".to_owned()),
    }
}

/// The command with its help, for completions and the manual page.
pub fn command() -> clap::Command {
    Args::command()
}

/// Reads the arguments; help and mistakes are worded by the library and printed.
pub fn parse() -> Result<Args, ExitCode> {
    Args::try_parse().map_err(|e| {
        if e.use_stderr() {
            // A mistake quotes the argument, whatever is in it.
            output::complain(e.render().to_string().trim_end());
            return ExitCode::from(super::exit::USAGE);
        }
        output::help(&e.render());
        ExitCode::from(super::exit::DONE)
    })
}
