//! Letters to households: one plain-language page a well, where the plan asks for them (`[letters]`).
//!
//! They hold results of single households and lie in internal/letters. A file is named by the well's number in the list and what of
//! its id is safe in a file name, so that no id can leave the folder or fall together with another; index.csv says which is whose.

mod fields;
mod gather;
mod template;
mod unplaced;

pub use template::Template;

use super::{Protection, Results, Stage};
use crate::ids::WellId;
use crate::problem::Problem;
use crate::table::{Cell, Table};
use gather::Desk;
use rayon::prelude::*;

/// Longest part of an id that goes into a file name.
const LONGEST: usize = 40;

/// Writes a letter for every listed well with a result, whether or not it could be placed, and their index.
///
/// # Errors
/// A folder that cannot be written, or a template that fails after all.
pub fn write(
    stage: &Stage,
    results: &Results<'_>,
    protection: &Protection,
    template: Option<&Template>,
) -> Result<(), Problem> {
    let (Some(template), Some(letters)) = (template, &results.job.plan.letters) else { return Ok(()) };
    let unplaced = unplaced::values(results.wells, results.survey)?;
    let desk = Desk::new(results, protection, &letters.contact, &unplaced);
    let one = |well: WellId| -> Option<Result<(WellId, String), Problem>> {
        let letter = desk.letter(well)?;
        let name = file_name(well, results.wells.id(well));
        let page = template.render(&letter).map_err(|fault| {
            let path = std::path::Path::new("internal/letters").join(&name);
            Problem::file(&path, "letter-template-faulty", fault.to_string(), "mend the template at letters.template")
        });
        let written = page.and_then(|page| stage.write(&format!("internal/letters/{name}"), page.as_bytes(), None));
        Some(written.map(|()| (well, name)))
    };
    let wells: Vec<WellId> = results.wells.ids().collect();
    let written: Vec<(WellId, String)> = wells.into_par_iter().filter_map(one).collect::<Result<_, _>>()?;
    let rows = written.iter().map(|(well, name)| vec![Cell::text(results.wells.id(*well)), Cell::text(name.clone())]);
    let index = Table { name: "index", columns: vec!["well".to_owned(), "file".to_owned()], rows: rows.collect() };
    stage.write("internal/letters/index.csv", &super::csv::bytes(&index), Some(index.rows.len() as u64))
}

fn file_name(well: WellId, id: &str) -> String {
    let safe = id.chars().take(LONGEST).map(|c| if c.is_ascii_alphanumeric() || c == '-' { c } else { '_' });
    format!("{:06}-{}.html", well.0 + 1, safe.collect::<String>())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn any_id_makes_a_safe_name_and_no_two_the_same() {
        assert_eq!(file_name(WellId(8), "SF-0009"), "000009-SF-0009.html");
        assert_eq!(file_name(WellId(0), "../../etc/passwd\0"), "000001-______etc_passwd_.html");
        assert_ne!(file_name(WellId(1), "a/b").to_lowercase(), file_name(WellId(2), "A\\B").to_lowercase());
        assert!(file_name(WellId(1), &"é".repeat(300)).len() < 80);
    }
}
