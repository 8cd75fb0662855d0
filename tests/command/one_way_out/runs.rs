//! One run for each command and option at least.

use super::job::mark;

/// What standard output holds.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Out {
    /// Words for a person; with `--json`, JSON.
    Words,
    /// One table.
    Csv,
    /// Names of tables; each is printed too.
    Tables,
}

pub(super) struct Run {
    /// Words with blanks between; `MARK` is the mark of a row, `~` a blank in a word.
    pub(super) args: &'static str,
    pub(super) out: Out,
    /// How it ends.
    pub(super) code: i32,
}

const fn words_of(args: &'static str) -> Run {
    Run {
        args,
        out: Out::Words,
        code: 0,
    }
}

const fn ends(code: i32, args: &'static str) -> Run {
    Run {
        args,
        out: Out::Words,
        code,
    }
}

const fn tables(args: &'static str) -> Run {
    Run {
        args,
        out: Out::Tables,
        code: 0,
    }
}

const fn csv(args: &'static str) -> Run {
    Run {
        args,
        out: Out::Csv,
        code: 0,
    }
}

/// In this order: `estimate` reads the plan that `cut` writes.
pub(super) const RUNS: &[Run] = &[
    words_of("cut job.ovo --rounds 1 --seed 1"),
    ends(2, "cut job.ovo --stages 2"),
    words_of(
        "cut job.ovo --resource pine --alternate =All<new> --output p.json --svg c.svg --page c.html",
    ),
    words_of("cut job.ovo --resource pine --check p.json --page c.pdf"),
    words_of("cut --instance instance.json"),
    tables("cut job.ovo --csv"),
    words_of("estimate job.ovo"),
    words_of("estimate job.ovo --openings --treatment --assumptions --lines"),
    words_of("estimate job.ovo --alternate =All<new>"),
    words_of("estimate job.ovo --quantities"),
    words_of("estimate job.ovo --in-force"),
    csv("estimate job.ovo --in-force --csv"),
    words_of("estimate job.ovo --set-aside MARK --set-aside-unreadable"),
    words_of("estimate job.ovo --page e.html --workbook e.xlsx --record r.json"),
    tables("estimate job.ovo --csv"),
    words_of("proof job.ovo rules.ovo"),
    words_of("survey job.ovo --set-aside MARK"),
    ends(1, "survey faulty.ovo --marked marked.xlsx"),
    ends(1, "survey faulty-book.ovo --marked marked-book.xlsx"),
    words_of("survey faulty.ovo --set-aside-unreadable"),
    words_of("weigh job.ovo --set-aside MARK"),
    words_of("weigh job.ovo --rank"),
    words_of(
        "weigh job.ovo --flip pace --between 1h --and 3h --within 1min --of @Other --with =All<new>",
    ),
    words_of("weigh job.ovo --over pace --steps 2 --page over.html --workbook over.xlsx"),
    words_of("weigh job.ovo --life --years 20 --discount 3~%~real --escalation 1~%~real"),
    words_of("weigh job.ovo --page w.html --workbook w.xlsx --set-aside-unreadable"),
    tables("weigh job.ovo --csv"),
    words_of("calendar job.ovo --bars b.svg"),
    words_of("calendar job.ovo --alternate =All<new> --set-aside MARK --set-aside-unreadable"),
    tables("calendar job.ovo --csv"),
    words_of("papers job.ovo"),
    words_of("papers job.ovo --names"),
    words_of("papers job.ovo bid"),
    words_of("papers job.ovo reviewed"),
    words_of("papers job.ovo orders"),
    words_of("papers job.ovo --to out --a4"),
    words_of("papers job.ovo --issue 1 --to issues"),
    words_of("papers moved.ovo --issue 2 --to issues"),
    words_of("papers job.ovo --set-aside MARK"),
    words_of("papers job.ovo --workbook lists.xlsx --set-aside-unreadable"),
    words_of("papers job.ovo reviewed --workbook reviewed.xlsx"),
    tables("papers job.ovo --csv"),
    words_of("papers moved.ovo --against r.json"),
    words_of("answers job.ovo --form form.csv --set-aside-unreadable"),
    words_of("answers job.ovo --form aside.csv --set-aside MARK"),
    words_of("answers job.ovo --read filled.csv --to answers.ovo"),
    ends(1, "answers job.ovo --read refused.csv --to none.ovo"),
    words_of("prices job.ovo --set-aside MARK --set-aside-unreadable"),
    words_of("prices job.ovo --write fill.csv"),
    words_of("prices job.ovo --from order.csv --write back.csv"),
    ends(1, "prices job.ovo --from strange-order.csv"),
    words_of("why job.ovo"),
    words_of("why job.ovo total --depth 9 --parts 9"),
    words_of("why job.ovo fate MARK --alternate =All<new>"),
    words_of("why job.ovo weight MARK"),
    words_of("why job.ovo pine --set-aside MARK --set-aside-unreadable"),
    words_of("why moved.ovo --against r.json"),
    words_of("why moved.ovo --against r.json --openings"),
    csv("why moved.ovo --against r.json --csv"),
    ends(1, "trial rules.ovo"),
    words_of("tidy job.ovo"),
    ends(1, "tidy rules.ovo --check"),
    words_of("tidy tidied.ovo --in-place"),
    words_of("library"),
    words_of("library --copy copied"),
    words_of("library bid.ovo"),
    words_of("start made"),
    words_of("start small --small"),
    words_of("code"),
    words_of("code OV-301"),
    words_of("shell bash"),
    words_of("shell man"),
    words_of("help"),
    words_of("help estimate"),
];

/// A run as arguments.
pub(super) fn words(args: &str) -> Vec<String> {
    args.split(' ')
        .map(|word| match word {
            // A mark of several lines is read with blanks between them.
            "MARK" => mark("=1+1").replace('\u{2028}', " "),
            word => word.replace('~', " "),
        })
        .collect()
}
