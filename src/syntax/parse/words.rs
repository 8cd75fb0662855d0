//! The grammar's rules in plain words, for messages: what a statement looks like, and what could be where reading stopped.

use super::super::mistakes::Form;
use super::Rule;

/// How the statement read by an entry rule is written.
pub(super) fn form(rule: Rule, first_word: &str) -> Form {
    let (name, pattern) = statement_form(rule)
        .or_else(|| heading_form(rule))
        .or_else(|| line_form(rule))
        .or_else(|| line_form_by_word(rule, first_word))
        .unwrap_or(("formula", "a formula"));
    Form { name, pattern }
}

/// Statements of one line.
fn statement_form(rule: Rule) -> Option<(&'static str, &'static str)> {
    Some(match rule {
        Rule::sheet_line => (
            "sheet",
            "sheet \"TITLE\" [layer base | layer shop | layer job]",
        ),
        Rule::use_line => ("use", "use \"FILE.ovo\""),
        Rule::counted_line => ("counted", "counted NOUN [(PLURAL)], NOUN, ..."),
        Rule::phases_line => ("phases", "phases \"A\", \"B\", ..."),
        Rule::choice_line => (
            "choice",
            "choice NAME one of LABEL [(\"SPELLING\")], LABEL, ...",
        ),
        Rule::given_line => (
            "given",
            "given NAME VALUE [from LOW to HIGH] [varies from LOW to HIGH] [source \"...\"] [note \"...\"]   or   given NAME asked TYPE [unanswered VALUE because \"...\"]",
        ),
        Rule::resource_line => (
            "resource",
            "resource NAME CLASS UNIT [waste P % | yield P %] [bought in PACKS of QUANTITY] [called \"...\"]",
        ),
        Rule::helper_line => ("helper", "helper NAME(a, b) = FORMULA"),
        Rule::caution_line => (
            "caution",
            "caution \"...\" [as condition | as exclusion] [for [shop | crew,] \"PHASE\", ...] [when CONDITION]",
        ),
        Rule::change_line => (
            "change",
            "change NAME [at \"MARK\"] to VALUE because \"...\" [by \"WHO\" on DATE] [was OLD VALUE]",
        ),
        Rule::amend_line => (
            "change",
            "change limits of GIVEN to between A and B because \"...\"   or   change packs of RESOURCE to PACKS of QUANTITY because \"...\"   or   change name of RESOURCE to \"...\" because \"...\"   or   change resource of RESOURCE [for \"PHASE\"] [where CONDITION] to RESOURCE because \"...\"   or   change phase of RESOURCE [for \"PHASE\"] to \"PHASE\" because \"...\"",
        ),
        Rule::pick_line => (
            "pick",
            "pick \"PLAN\" where cost less than P % of \"OTHER\" otherwise \"OTHER\"",
        ),
        _ => return None,
    })
}

/// Headings of blocks.
fn heading_form(rule: Rule) -> Option<(&'static str, &'static str)> {
    Some(match rule {
        Rule::extend_head => (
            "block heading",
            "extend survey NAME because \"...\" {   or   extend choice, extend rows, extend table likewise",
        ),
        Rule::survey_head => (
            "block heading",
            "survey TABLE {   or   survey TABLE of TABLE_ABOVE by COLUMN {",
        ),
        Rule::rows_head => (
            "rows",
            "rows TABLE by COLUMN from CHOICE {   or   rows TABLE by COLUMN from COUNT",
        ),
        Rule::for_head => (
            "block heading",
            "for each TABLE {   or   for each GROUP of TABLE by KEY, ... {   or   for the job {",
        ),
        Rule::table_head => (
            "block heading",
            "table NAME by KEY, ... {   or   table NAME from \"FILE.csv\" by KEY, ...",
        ),
        Rule::decide_head => (
            "block heading",
            "decide NAME [of CHOICE] [first that holds] {   or   decide NAME [of CHOICE] by {",
        ),
        Rule::alternate_head => ("block heading", "alternate \"NAME\" [for owner \"...\"] {"),
        Rule::life_head => ("block heading", "life {   or   life of \"ALTERNATE\" {"),
        Rule::calendar_head => ("block heading", "calendar {"),
        Rule::cut_head => ("block heading", "cut RESOURCE {"),
        Rule::list_head => (
            "block heading",
            "list NAME for each TABLE {   or   list NAME for each part of CLASS {   or   list NAME for the job {",
        ),
        Rule::paper_head => ("block heading", "paper NAME for READER {"),
        Rule::each_head => (
            "block heading",
            "each TABLE [where CONDITION] [sorted by NAME, NAME down] {",
        ),
        Rule::trial_head => ("block heading", "trial \"NAME\" {"),
        Rule::job_head => ("block heading", "job {"),
        Rule::pay_head => ("block heading", "pay RESOURCE {"),
        Rule::part_head => (
            "block heading",
            "part NAME COUNT of RESOURCE for \"PHASE\" [when CONDITION] {",
        ),
        _ => return None,
    })
}

/// Lines within a block that have one form.
fn line_form(rule: Rule) -> Option<(&'static str, &'static str)> {
    Some(match rule {
        Rule::extend_column => (
            "column",
            "NAME [in UNIT] [headed \"...\"] [between A and B [was between A and B]]",
        ),
        Rule::extend_labels => ("labels", "LABEL [(\"SPELLING\", ...)], LABEL, ..."),
        Rule::rows_line => ("line of `rows`", "LABEL, LABEL: ROW, ROW"),
        Rule::calendar_line => (
            "line of `calendar`",
            "starts 2026-03-02   or   crew glazier 1 crew of 2   or   wait \"Glazing\" to \"Paint\" at least 7 day",
        ),
        Rule::column_line => (
            "column",
            "NAME TYPE [key] [optional] [if blank VALUE | else TABLE_ABOVE] [between A and B] [headed \"...\"] [note \"...\"]",
        ),
        Rule::rule_line => (
            "rule",
            "NAME = FORMULA [shown in UNIT] [adds up] [note \"...\"]",
        ),
        Rule::take_line => (
            "take",
            "take RESOURCE FORMULA for \"PHASE\" [when CONDITION] [shared by VALUE] [besides parts]",
        ),
        Rule::require_line => (
            "require",
            "require CONDITION else \"...\" [blames COLUMN, ...]",
        ),
        Rule::decide_line => (
            "decide line",
            "LABEL when CONDITION because \"...\"   or   LABEL otherwise because \"...\"",
        ),
        Rule::with_line => ("with", "with NAME = VALUE, NAME = VALUE, ..."),
        Rule::row_line => ("row", "row [of TABLE] NAME = VALUE, NAME = VALUE, ..."),
        Rule::expect_line => (
            "expect",
            "expect NAME = VALUE [within TOLERANCE] [because \"...\"] [at \"MARK\"]   or   expect NAME refused",
        ),
        Rule::pay_line => ("pay line", "NAME 34 USD per h   or   NAME 7.65 % of wage"),
        Rule::charge_line => (
            "charge",
            "charge NAME P % of BASE, P % mark-up on BASE, P % margin on BASE   or   charge NAME SUM",
        ),
        Rule::allowance_line => ("allowance", "allowance NAME SUM [note \"...\"]"),
        Rule::final_line => ("final", "final rounded [up | down] to SUM"),
        _ => return None,
    })
}

/// Everything that a paper can draw.
const DRAW: &str = "draw calendar   or   draw cuts   or   draw chart of phases (areas, charges, alternates, effects, years)   or   draw TABLE at LENGTH, LENGTH within LENGTH, LENGTH   or   draw TABLE along NAME up NAME within LENGTH, LENGTH";

/// Lines within a block whose form depends on their first word.
fn line_form_by_word(rule: Rule, first_word: &str) -> Option<(&'static str, &'static str)> {
    Some(match rule {
        Rule::cut_line => (
            "line of `cut`",
            match first_word {
                "unit" => "unit 1/32 in",
                "crosscut" | "rip" => "crosscut kerf 1/8 in   or   rip kerf 1/8 in",
                "end" | "edge" => "end trim 1 in   or   edge trim 1/4 in",
                "least" => "least strip 3/4 in",
                "keep" => "keep 18 in by 2 in",
                "buy" => {
                    "buy LENGTH by WIDTH by THICKNESS; buy WIDTH by HEIGHT for glass; buy LENGTH for bars"
                }
                "on" => "on hand from TABLE worth SUM per UNIT",
                "may" => "may turn",
                "spares" => "spares P %",
                "plan" => "plan \"FILE.json\"",
                _ => "stages N, rounds N or seed N",
            },
        ),
        Rule::life_line => (
            "line of `life`",
            match first_word {
                "study" => "study 30 years",
                "discount" | "escalation" => {
                    "discount P % real or discount P % nominal; escalation likewise"
                }
                "inflation" => "inflation P %",
                "residual" => "residual \"NAME\" SUM   or   residual \"NAME\" P % of first cost",
                _ => {
                    "upkeep \"NAME\" SUM each year, every N years or after N years; replace likewise"
                }
            },
        ),
        Rule::list_line => (
            "line of a list",
            match first_word {
                "titled" => "titled \"...\"",
                "tick" | "room" => "tick \"HEADING\"   or   room \"HEADING\"",
                "where" => "where CONDITION",
                "grouped" => "grouped by NAME, NAME",
                "sorted" => "sorted by NAME, NAME down",
                _ => "column FORMULA [headed \"...\"] [shown in UNIT] [total] [private]",
            },
        ),
        Rule::paper_line => (
            "line of a paper",
            match first_word {
                "list" => "list NAME",
                "sign" => "sign \"WHO\", \"WHO\"",
                "page" => "page break",
                "boxes" => "boxes \"TITLE\" [each \"COLUMN\", \"COLUMN\"]: \"WHAT\", \"WHAT\"",
                "room" => "room \"WHAT\", \"WHAT\"",
                "cautions" => {
                    "cautions   or   cautions of its rows   or   cautions as conditions   or   cautions as exclusions"
                }
                "offer" => "offer",
                "photograph" => "photograph NAME",
                "draw" => DRAW,
                _ => "titled \"...\"; heading and text likewise",
            },
        ),
        Rule::part_line => (
            "line of a part",
            match first_word {
                "from" | "to" | "across" | "up" => {
                    "across LENGTH [each LENGTH]; from, to and up likewise"
                }
                "member" | "treatment" | "profile" => {
                    "member VALUE; treatment and profile likewise"
                }
                _ => "length SIZE [rough SIZE]; width, height and thickness likewise",
            },
        ),
        Rule::job_line => (
            "job line",
            match first_word {
                "survey" => {
                    "survey TABLE from \"FILE\" [tab \"T\"] [heading row N] [separated by \"semicolon\"] [decimal comma]"
                }
                "prices" => "prices from \"FILE\" [tab \"T\"]",
                "money" => "money USD, or another currency by its three letters",
                "ties" => "ties half up, ties half down or ties half even",
                "split" => "split by COLUMN",
                "issued" => "issued 2026-03-21, the day of the job",
                _ => "round money each line or round money each opening",
            },
        ),
        _ => return None,
    })
}

/// What the grammar would have taken, in words, without doubles and in a fixed order.
pub(super) fn wanted(rules: &[Rule]) -> Vec<&'static str> {
    let mut words: Vec<&'static str> = rules.iter().filter_map(|r| word(*r)).collect();
    // After a value nearly everything may follow; the word `operator` stands for all of it but the words that are due.
    if words.contains(&"an operator") {
        words.retain(|w| {
            !matches!(
                *w,
                "`per`" | "`is`" | "`and`" | "`or`" | "`shared by`" | "`rounded`" | "`if blank`"
            )
        });
    }
    // A name and a text are values too.
    if words.contains(&"a value") {
        words.retain(|w| !matches!(*w, "a name" | "a text in double quotes" | "`if blank`"));
    }
    words.sort_unstable_by_key(|w| (w.starts_with('`'), *w));
    words.dedup();
    words
}

fn word(rule: Rule) -> Option<&'static str> {
    Some(match rule {
        Rule::op | Rule::relation | Rule::is_test => "an operator",
        Rule::quantity
        | Rule::number
        | Rule::percent
        | Rule::signed
        | Rule::expr
        | Rule::conditional
        | Rule::condition
        | Rule::sum
        | Rule::step
        | Rule::atom
        | Rule::given_value
        | Rule::asked
        | Rule::kw_asked
        | Rule::bracketed
        | Rule::chosen
        | Rule::aggregate
        | Rule::truth
        | Rule::unknown
        | Rule::minus
        | Rule::setting_value => "a value",
        Rule::name
        | Rule::names
        | Rule::base
        | Rule::bases
        | Rule::setting
        | Rule::settings
        | Rule::label_spec
        | Rule::label_specs
        | Rule::labels
        | Rule::counted
        | Rule::plural => "a name",
        Rule::text | Rule::texts | Rule::text_body => "a text in double quotes",
        Rule::unit | Rule::unit_atom => "a unit",
        Rule::exponent => "a whole number",
        Rule::column_type => "a type of column",
        Rule::arm | Rule::arm_head => "LABEL: VALUE",
        Rule::remark | Rule::remark_kind => "`source` or `note`",
        _ => return keyword(rule),
    })
}

/// Words that are written as they are.
fn keyword(rule: Rule) -> Option<&'static str> {
    Some(match rule {
        Rule::kw_if | Rule::absent_suffix => "`if blank`",
        Rule::kw_then => "`then`",
        Rule::kw_else => "`else`",
        Rule::kw_blames => "`blames`",
        Rule::kw_or => "`or`",
        Rule::kw_and => "`and`",
        Rule::kw_is => "`is`",
        Rule::kw_of => "`of`",
        Rule::kw_between => "`between`",
        Rule::kw_per | Rule::per_suffix => "`per`",
        Rule::kw_shared | Rule::shared_suffix | Rule::shared_by => "`shared by`",
        Rule::kw_by => "`by`",
        Rule::kw_in => "`in`",
        Rule::kw_otherwise => "`otherwise`",
        Rule::kw_from | Rule::given_range | Rule::asked_of => "`from`",
        Rule::kw_at | Rule::at_mark => "`at`",
        Rule::kw_because | Rule::expect_reason => "`because`",
        Rule::kw_within | Rule::within => "`within`",
        Rule::kw_rounded | Rule::rounding => "`rounded`",
        Rule::rests_on | Rule::kw_rests_on => "`rests on`",
        Rule::equals => "=",
        Rule::colon => ":",
        Rule::open_brace => "{",
        Rule::close_brace => "}",
        Rule::open_bracket => "(",
        Rule::close_bracket => ")",
        Rule::kw_to => "`to`",
        Rule::kw_when => "`when`",
        Rule::kw_for => "`for`",
        Rule::kw_was => "`was`",
        Rule::unanswered | Rule::kw_unanswered => "`unanswered`",
        Rule::decided_by => "`by \"...\" on DATE`",
        Rule::kw_on => "`on`",
        Rule::day => "a day such as 2026-03-01",
        Rule::private => "`private`",
        Rule::varies | Rule::kw_varies => "`varies`",
        Rule::spread | Rule::kw_as => "`as`",
        Rule::kw_even => "`even`",
        Rule::kw_triangle => "`triangle`",
        Rule::kw_likely => "`likely`",
        Rule::with_group | Rule::kw_with => "`with`",
        Rule::kw_each => "`each`",
        Rule::kw_headed | Rule::headed => "`headed`",
        Rule::kw_layer => "`layer`",
        Rule::kw_half => "`half`",
        Rule::kw_money => "`money`",
        Rule::kw_refused => "`refused`",
        Rule::none_word => "`none`",
        Rule::kw_bought | Rule::bought => "`bought in`",
        Rule::kw_called | Rule::called => "`called`",
        Rule::allowance_word => "`waste` or `yield`",
        Rule::by_what => "`item` or `invoice`",
        Rule::tie => "`up`, `down` or `even`",
        Rule::round_grain => "`line` or `opening`",
        Rule::charge_kind => "`of`, `mark-up on` or `margin on`",
        Rule::kw_tab => "`tab`",
        _ => return None,
    })
}
