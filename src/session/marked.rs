//! Marked copies of the survey of a job: one for each of its files, with all that `survey` would refuse.

use super::contradictions::tentative;
use super::files::{self, Role};
use super::inputs::table_options;
use super::job::Job;
use crate::diagnostics::Diagnostic;
use crate::estimate::Survey;
use crate::program::SurveyInput;
use crate::running::Telling;
use crate::survey::{self, Looked, Marked, Original, ReadOptions, SetAside};

impl Job {
    /// Names of the files of the survey, in the order of their marked copies.
    pub fn survey_files(&self) -> Vec<String> {
        let named = self.checked.program.terms.surveys.iter();
        let mut names: Vec<String> = Vec::new();
        for file in named.flat_map(|s| &s.files) {
            let sheet = self.loaded.sources.name(file.span.file);
            let name = files::data_name(&file.path, sheet, &*self.from);
            if !names.contains(&name) {
                names.push(name);
            }
        }
        names
    }

    /// Makes a marked copy of each file of the survey, in the order in which the tables of the program name them: what cannot be read, and
    /// the contradictions of the rows that can. Errors: a file that cannot be opened or of which nothing can be read.
    pub fn marked(&mut self, read: &ReadOptions<'_>) -> Result<Vec<Marked>, Vec<Diagnostic>> {
        // Tables below need the ones above them, read as far as they can be.
        let told = self.warnings.len();
        let (above, _) = self.tables(&SetAside::Nothing, false, &tentative(read));
        self.warnings.truncate(told);
        let named = self.checked.program.terms.surveys.clone();
        let (mut originals, mut problems) = (Vec::<Original>::new(), Vec::new());
        let mut read_from: Vec<(SurveyInput, Vec<usize>)> = Vec::new();
        for input in named.into_iter().filter(|i| !i.files.is_empty()) {
            let mut files = Vec::new();
            for file in &input.files {
                match self.source(file, Role::Survey) {
                    Err(d) => problems.push(d),
                    Ok(source) => match originals.iter().position(|o| o.name() == source.name) {
                        Some(at) => files.push(at),
                        None => match Original::hold(source) {
                            Ok(original) => {
                                files.push(originals.len());
                                originals.push(original);
                            }
                            Err(d) => problems.push(d),
                        },
                    },
                }
            }
            read_from.push((input, files));
        }
        if !problems.is_empty() {
            return Err(problems);
        }
        let looked: Vec<Looked> = read_from
            .iter()
            .map(|(input, files)| {
                let files = files.iter().filter_map(|f| originals.get(*f));
                self.look(input, files.collect(), read, &above)
            })
            .collect();
        let misfits = above.reports.iter().flat_map(|r| r.misfits.clone());
        let mut more: Vec<Diagnostic> = misfits.collect();
        more.extend(self.contradictions(&above, Telling::Apart));
        survey::marked_copies(&originals, &looked, &more)
    }

    /// Reads one table for its problems, below the tables that were read.
    fn look(
        &self,
        input: &SurveyInput,
        files: Vec<&Original>,
        read: &ReadOptions<'_>,
        above: &Survey,
    ) -> Looked {
        let program = &self.checked.program;
        let info = &program.tables[input.table];
        let parent = info.parent.and_then(|p| above.reports.get(p.index()));
        let unread = parent.map(|report| report.unplaced.clone());
        survey::look(
            &info.schema,
            &program.nouns,
            program.currency.as_deref(),
            files.into_iter().map(Original::again).collect(),
            &ReadOptions {
                parents_unread: unread.unwrap_or_default(),
                ..table_options(input, read)
            },
            // Below a table of which nothing could be read, no row can be told to be of none.
            info.parent.and_then(|p| {
                let table = above.tables.get(p.index()).filter(|t| t.rows > 0)?;
                Some((&program.tables[p].schema, table))
            }),
        )
    }
}
