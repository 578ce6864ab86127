//! The files of a plan, opened in order, as one stream of blocks.
//!
//! Every file's header is checked before the first row is read, so that all missing columns are told at once.

use super::block::{RawBlock, SourceFile};
use super::columns::{Columns, wanted};
use super::header::Wanted;
use super::open::{Extent, Rows, look, open as open_file};
use super::ragged::{BURIED, LONG, Ragged};
use crate::files::Inputs;
use crate::in_order::read_in_order;
use crate::plan::{Plan, ResultsPart, TextOptions};
use crate::problem::{Problem, Problems, Warning};
use std::collections::VecDeque;
use std::path::Path;
use std::sync::Arc;

/// The results files of a run, ready to be read.
pub struct Intake {
    inputs: Inputs,
    waiting: VecDeque<Waiting>,
    open: Option<(Arc<SourceFile>, Rows)>,
    /// Every file, in reading order.
    pub files: Vec<Arc<SourceFile>>,
    /// Things worth telling about the files read so far.
    pub warnings: Vec<Warning>,
}

/// A file still to be read.
struct Waiting {
    file: Arc<SourceFile>,
    options: TextOptions,
    wanted: Vec<Wanted>,
}

/// Checks every results file's header and makes the stream.
///
/// # Errors
/// Every file that cannot be opened, is empty, or lacks a column.
pub fn open(plan: &Plan, inputs: &Inputs) -> Result<Intake, Problems> {
    few_enough(plan)?;
    let mut problems = Problems::default();
    let mut files = Vec::new();
    let mut waiting = VecDeque::new();
    for (part, entry) in plan.results.iter().enumerate() {
        for path in &entry.files {
            let wanted = wanted(&entry.layout, part + 1);
            match source(entry, part, path, files.len(), &wanted, inputs) {
                Ok(file) => {
                    let file = Arc::new(file);
                    files.push(file.clone());
                    waiting.push_back(Waiting { file, options: entry.text.clone(), wanted });
                }
                Err(more) => more.into_iter().for_each(|problem| problems.push(problem)),
            }
        }
    }
    problems.or(Intake { inputs: inputs.clone(), waiting, open: None, files, warnings: Vec::new() })
}

fn source(
    entry: &ResultsPart,
    part: usize,
    path: &Path,
    number: usize,
    wanted: &[Wanted],
    inputs: &Inputs,
) -> Result<SourceFile, Vec<Problem>> {
    let number = u16::try_from(number).map_err(|_| vec![too_many(path, number + 1)])?;
    let header = look(inputs, path, &entry.text, wanted)?;
    let columns = Columns::new(&entry.layout, &header);
    Ok(SourceFile {
        number,
        path: path.to_path_buf(),
        part,
        columns,
        ragged: Ragged::default(),
        buried: Ragged::default(),
    })
}

/// Files are numbered with 16 bits in every row. Told before the first is opened: otherwise each further one would be told of.
fn few_enough(plan: &Plan) -> Result<(), Problem> {
    let mut files = plan.results.iter().flat_map(|part| &part.files);
    let beyond = files.nth(usize::from(u16::MAX) + 1);
    beyond.map_or(Ok(()), |path| Err(too_many(path, usize::from(u16::MAX) + 2 + files.count())))
}

fn too_many(path: &Path, count: usize) -> Problem {
    let found = format!("{count} results files, of which this is number 65,537");
    Problem::file(path, "too-many-files", found, "65,536 can be told apart; join some of them")
}

impl Intake {
    /// The next block; `None` after the last file's last.
    ///
    /// # Errors
    /// A file that can no longer be read, or is damaged further down.
    pub fn next_block(&mut self) -> Result<Option<RawBlock>, Problem> {
        loop {
            if self.open.is_none() && !self.open_next()? {
                return Ok(None);
            }
            let Some((file, rows)) = &mut self.open else { return Ok(None) };
            if let Some(part) = rows.next_text()? {
                return Ok(Some(RawBlock { file: file.clone(), text: part.text, first_line: part.first_line }));
            }
            self.close();
        }
    }

    /// Works on blocks with `map` on all threads and gives what it made to `take`, in file order.
    ///
    /// # Errors
    /// As `next_block`, and what `take` says.
    pub fn in_order<T: Send>(
        &mut self,
        map: impl Fn(&RawBlock) -> T + Sync,
        take: impl FnMut(T) -> Result<(), Problem> + Send,
    ) -> Result<(), Problem> {
        read_in_order(rayon::current_num_threads(), || self.next_block(), |block| map(&block), take)?;
        self.tell_ragged();
        Ok(())
    }

    fn open_next(&mut self) -> Result<bool, Problem> {
        let Some(Waiting { file, options, wanted }) = self.waiting.pop_front() else { return Ok(false) };
        let opened = open_file(&self.inputs, &file.path, &options, &wanted, Extent::Whole);
        let opened = opened
            .map_err(|mut problems| if problems.is_empty() { changed(&file.path) } else { problems.swap_remove(0) })?;
        if opened.header.names != file.columns.names {
            return Err(changed(&file.path));
        }
        self.open = Some((file, opened.rows));
        Ok(true)
    }

    fn close(&mut self) {
        let Some((file, rows)) = self.open.take() else { return };
        if rows.other_lines() > 0 {
            self.warnings.push(Warning {
                subject: file.path.to_string_lossy().into_owned(),
                text: "lines that are not UTF-8 were read as Windows-1252; `encoding` in the plan can say otherwise"
                    .to_owned(),
                count: rows.other_lines(),
                examples: Vec::new(),
            });
        }
    }

    /// Tells of lines that are not read as they seem to be meant, once all blocks are walked.
    fn tell_ragged(&mut self) {
        for file in &self.files {
            self.warnings.extend(file.ragged.warning(&file.path, LONG));
            self.warnings.extend(file.buried.warning(&file.path, BURIED));
        }
    }
}

fn changed(path: &Path) -> Problem {
    Problem::file(
        path,
        "file-changed",
        "its header changed while the program ran",
        "run again when nobody writes to it",
    )
}
