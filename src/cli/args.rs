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
    /// Show every message, not only the first 20
    #[arg(long, global = true)]
    pub all_messages: bool,
    /// Issue date to use instead of the one in the job block, such as 2026-03-21; no command reads the clock
    #[arg(long, global = true, value_name = "DATE", value_parser = day)]
    pub issued: Option<String>,
    /// Width of tables in characters [default: the width of the window, or 80]
    #[arg(long, global = true, value_name = "N", value_parser = clap::value_parser!(u16).range(40..=400))]
    pub width: Option<u16>,
}

/// Commands.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Create a job folder that uses the shipped sheets, with a survey form to fill in
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
    /// Calculate a job: take-off, buy list, cost
    #[command(
        after_help = "Examples:\n  ovolo estimate job.ovo\n  ovolo estimate job.ovo --openings --treatment\n  ovolo estimate job.ovo --workbook estimate.xlsx --page estimate.html"
    )]
    Estimate(EstimateArgs),
    /// Compare the alternates of a job side by side
    #[command(
        after_help = "Examples:\n  ovolo weigh job.ovo\n  ovolo weigh job.ovo --flip glaze_pace --with \"All new\"\n  ovolo weigh job.ovo --flip \"price of old_glass\" --between \"4 USD per sq ft\" --and \"20 USD per sq ft\" --with \"Modern glass\"\n  ovolo weigh job.ovo --over glaze_pace --steps 6\n  ovolo weigh job.ovo --rank\n  ovolo weigh job.ovo --years 30 --discount \"3 % real\""
    )]
    Weigh(WeighArgs),
    /// Show how long a job takes, in what order the work is done, and when each crew is where
    #[command(
        after_help = "Examples:\n  ovolo calendar job.ovo\n  ovolo calendar job.ovo --bars calendar.svg\n  ovolo calendar job.ovo --csv calendar-weeks"
    )]
    Calendar(CalendarArgs),
    /// List the papers of a job and who each one is for; show one, or write them
    #[command(
        after_help = "Examples:\n  ovolo papers job.ovo\n  ovolo papers job.ovo cut_papers\n  ovolo papers job.ovo --to issue\n  ovolo papers job.ovo --csv shop_papers/cut_list"
    )]
    Papers(PapersArgs),
    /// List prices that are missing, old or not used, and write the rows to fill in
    #[command(
        after_help = "Examples:\n  ovolo prices job.ovo\n  ovolo prices job.ovo --write to-fill-in.csv"
    )]
    Prices(PricesArgs),
    /// Write a form that asks the reviewing authority about each treatment, and read the answers back as a sheet of changes
    #[command(
        after_help = "Examples:\n  ovolo answers job.ovo --form answers.csv\n  ovolo answers job.ovo --read answers.csv --to answers.ovo"
    )]
    Answers(AnswersArgs),
    /// Show how a number was calculated, as a tree
    #[command(
        after_help = "Examples:\n  ovolo why job.ovo lite_w W-014\n  ovolo why job.ovo glazier\n  ovolo why job.ovo total --depth 2\n  ovolo why job.ovo --against monday.json\n  ovolo why job.ovo --against bid.json --openings"
    )]
    Why(WhyArgs),
    /// Plan the cuts of boards, sheets of glass or bars, with a proved bound
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
    /// Folder to create; it must be new or empty
    pub folder: String,
    /// Create a small example instead, with five openings and its own rules, ready to run without the shipped sheets
    #[arg(long)]
    pub small: bool,
}

/// Sheets to work on.
#[derive(Debug, clap::Args)]
pub struct SheetArgs {
    /// Sheets, each handled separately; `-` is standard input
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
    /// Calculate this alternate instead of the job as decided
    #[arg(long, value_name = "NAME")]
    pub alternate: Option<String>,
    /// Show the cost of each opening
    #[arg(long)]
    pub openings: bool,
    /// Show what was decided for each opening, and why
    #[arg(long)]
    pub treatment: bool,
    /// Show givens, sources, values assumed for blanks, and roundings
    #[arg(long)]
    pub assumptions: bool,
    /// Show every cost line and how labor rates are made up
    #[arg(long)]
    pub lines: bool,
    /// Take off amounts only: read no price book and calculate no money
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
    /// Calculate again whenever a sheet, survey or price book is saved
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
    /// Read an order that a supplier filled in (CSV or workbook), and turn its prices into rows of a price book
    #[arg(long, value_name = "ORDER")]
    pub from: Option<String>,
    /// Write a price book with a row for each price that is missing, old or undated; with --from, the rows from the order
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
    /// Write the form as CSV, with a row for each treatment of a member that nobody has decided by hand
    #[arg(long, value_name = "FILE")]
    pub form: Option<String>,
    /// Read a completed form (CSV or workbook)
    #[arg(long, value_name = "FILE", requires = "to")]
    pub read: Option<String>,
    /// Write the answers to this sheet, which the job can use
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
    /// Schedule this alternate instead of the job as decided
    #[arg(long, value_name = "NAME")]
    pub alternate: Option<String>,
    /// Print one table as CSV; without a name, list the names
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
    /// Show or write only this paper
    pub paper: Option<String>,
    /// Print the name of each paper, one a line
    #[arg(long, conflicts_with_all = ["to", "csv", "workbook"])]
    pub names: bool,
    /// Write each paper to this folder as PDF and as a page for the browser (HTML)
    #[arg(long, value_name = "DIR")]
    pub to: Option<String>,
    /// Make the PDF files for A4 instead of US letter; the pages are the same
    #[arg(long, requires = "to")]
    pub a4: bool,
    /// Make issue N in its own folder below DIR, with the number on every page, copies of all input files, and the changes since the last issue
    #[arg(long, value_name = "N", requires = "to", conflicts_with = "paper", value_parser = clap::value_parser!(u32).range(1..=9999))]
    pub issue: Option<u32>,
    /// Write the lists of PAPER as a workbook with live sums; without PAPER, write every list and the cost, for the office
    #[arg(long, value_name = "FILE", conflicts_with_all = ["to", "csv"])]
    pub workbook: Option<String>,
    /// Compare with the record of an earlier issue, for papers that state changes; --issue uses the record of the previous issue
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
    /// Find where in the range of this given, or of `price of RESOURCE`, two versions cost the same
    #[arg(long, value_name = "GIVEN")]
    pub flip: Option<String>,
    /// Show totals over the values of one given for every version, or of two givens for one version
    #[arg(long, value_name = "GIVEN[,GIVEN]", value_delimiter = ',')]
    pub over: Vec<String>,
    /// Rank the givens by how much their ranges change the total
    #[arg(long)]
    pub rank: bool,
    /// Lower end of the range, instead of the given's own
    #[arg(long, value_name = "VALUE", requires_all = ["and", "study"])]
    pub between: Option<String>,
    /// Upper end of the range, instead of the given's own
    #[arg(long, value_name = "VALUE", requires = "between")]
    pub and: Option<String>,
    /// How closely to bracket a flip [default: chosen from the range]
    #[arg(long, value_name = "VALUE", requires = "flip")]
    pub within: Option<String>,
    /// Number of steps from low to high in a table over a given
    #[arg(long, value_name = "N", default_value_t = 4, value_parser = clap::value_parser!(u32).range(1..=100))]
    pub steps: u32,
    /// The version to study, or the first of two [default: the job as decided]
    #[arg(long, value_name = "ALTERNATE", requires = "study")]
    pub of: Option<String>,
    /// The second of two versions [default: the first alternate]
    #[arg(long, value_name = "ALTERNATE", requires = "study")]
    pub with: Option<String>,
    /// Show the cost over the years from the `life` blocks of the job; implied by the three options below
    #[arg(long, group = "study")]
    pub life: bool,
    /// Number of years, instead of the job's own
    #[arg(long, value_name = "N", conflicts_with_all = ["flip", "over", "rank"], value_parser = clap::value_parser!(u32).range(1..=100))]
    pub years: Option<u32>,
    /// Discount instead of the job's own, such as "3 % real"
    #[arg(long, value_name = "RATE", conflicts_with_all = ["flip", "over", "rank"])]
    pub discount: Option<String>,
    /// Rate at which prices rise, instead of the job's own, such as "1 % real"
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
    /// A column, given, rule, decision, resource, phase or charge, a class such as `labor`, `cost` or `total` [default: total]
    pub result: Option<String>,
    /// Mark of the opening, if the result is calculated for each opening
    pub mark: Option<String>,
    /// Explain the result in this alternate
    #[arg(long, value_name = "NAME")]
    pub alternate: Option<String>,
    /// Levels of the tree to show, at most 40 [default: depends on the result]
    #[arg(long, value_name = "N")]
    pub depth: Option<usize>,
    /// Parts of a sum to show one by one; the rest are shown as one line
    #[arg(long, value_name = "N", default_value_t = 5)]
    pub parts: usize,
    /// Explain why a figure differs from this record: total, cost, labor, stock, glass, points or putty
    #[arg(long, value_name = "RECORD", conflicts_with_all = ["mark", "depth"])]
    pub against: Option<String>,
    /// With --against: show the change for each opening, at the prices of the record, as in a change order
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
    /// The job sheet with the `cut` blocks to plan
    #[arg(required_unless_present = "instance")]
    pub job: Option<String>,
    /// Plan only this resource of the job
    #[arg(long, value_name = "NAME", requires = "job")]
    pub resource: Option<String>,
    /// Calculate this alternate instead of the job as decided
    #[arg(long, value_name = "NAME", requires = "job")]
    pub alternate: Option<String>,
    /// A JSON file with stock and settings that replace the job's `cut` blocks, and with parts if there is no job
    #[arg(long, value_name = "FILE")]
    pub instance: Option<String>,
    /// Write the plan to this file instead of the one named in the `cut` block
    #[arg(short, long, value_name = "PLAN", conflicts_with = "check")]
    pub output: Option<String>,
    /// Check the cuts and the bound of this plan, instead of making a new one
    #[arg(long, value_name = "PLAN")]
    pub check: Option<String>,
    /// Write a drawing of the plan to scale (SVG)
    #[arg(long, value_name = "FILE")]
    pub svg: Option<String>,
    /// Write the plan for the shop, drawn to scale with every cut in order: as PDF if the name ends in .pdf, otherwise as a page for the browser
    #[arg(long, value_name = "FILE")]
    pub page: Option<String>,
    /// Stages of cuts in glass, instead of those in the file
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u8).range(2..=3))]
    pub stages: Option<u8>,
    /// Rounds of the search around the plan, for each thickness [default: those of the block, or 30]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u64).range(0..=100_000))]
    pub rounds: Option<u64>,
    /// Starting seed of the search [default: that of the block, or 1]
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
    /// Only list the sheets that are not tidy
    #[arg(long, conflicts_with = "in_place")]
    pub check: bool,
}

/// Arguments of `library`.
#[derive(Debug, clap::Args)]
pub struct LibraryArgs {
    /// Print this file; without a name, list all files
    pub name: Option<String>,
    /// Copy the file, or all files, into this folder
    #[arg(long, value_name = "FOLDER")]
    pub copy: Option<String>,
}

/// Arguments of `code`.
#[derive(Debug, clap::Args)]
pub struct CodeArgs {
    /// A code such as OV-301; without a code, list all codes
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
