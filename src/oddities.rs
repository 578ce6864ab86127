//! What of the laboratories' words could not be read becomes warnings, and text to paste into the plan.
//!
//! The most frequent come first, each with the file and line where it was met first. Nothing is decided here: where the
//! dictionary has near words they are offered, and where it has none, or a wrong word would change the amount, the line
//! is a comment until somebody writes the right one.

use crate::dictionary::{Dictionary, NameOutcome};
use crate::ids::Day;
use crate::normalise::{OTHERS, Place, Seen, Tally, Texts};
use crate::per_well::WellValue;
use crate::plan::{Plan, SMALLEST_GROUP, shown_path};
use crate::problem::Warning;

/// Lines that are offered under one heading.
const OFFERED: usize = 40;
/// How alike two spellings of units must be for one to be offered, from 0 to 1.
const ALIKE: f64 = 0.5;

/// A spelling and where it was met.
pub(crate) type Met = (String, Seen);

/// Says where places are.
pub(crate) struct Files<'p> {
    pub(crate) plan: &'p Plan,
}

impl Files<'_> {
    /// `lab/north.csv:14`
    pub(crate) fn shown(&self, place: Place) -> String {
        let mut files = self.plan.results.iter().flat_map(|part| &part.files);
        let path = files.nth(usize::from(place.file));
        let name = path.map(|path| shown_path(&self.plan.base, path)).unwrap_or_default();
        format!("{name}:{}", place.line)
    }
}

/// The warnings of a run.
pub(crate) fn warnings(plan: &Plan, tally: &Tally) -> Vec<Warning> {
    let files = Files { plan };
    let lists = [
        ("results.names", "analyte names that are not known; map them under names", plain(&tally.names)),
        (
            "results.names",
            "names that do not say what is counted (as N or as NO3); name or unit must",
            plain(&tally.bases),
        ),
        ("results.units", "units that are empty or not known; map them under units", pairs(&tally.units)),
        ("results.units", "units that measure something else than the analyte", pairs(&tally.unfit_units)),
        (
            "results.fractions",
            "sample fractions that make no analyte of the name; map their words under fractions",
            pairs(&tally.fractions),
        ),
        ("results.qualifiers", "qualifiers that are not known, taken as notes", plain(&tally.qualifiers)),
        ("results.qualifiers", "marks of one line that contradict each other", plain(&tally.disagreeing)),
        ("results.sample_kinds", "sample kinds that are not known, taken as routine", plain(&tally.kinds)),
        (
            "results.date_order",
            "dates that can be read in two ways; date_order says which",
            plain(&tally.ambiguous_dates),
        ),
        (
            "results.date_format",
            "dates that cannot be read; date_format says how they are written",
            plain(&tally.dates),
        ),
        (
            "results.columns.received",
            "days of receipt that cannot be read, so that no holding time is judged",
            plain(&tally.received),
        ),
        ("results.value", "values that cannot be read", plain(&tally.values)),
        ("results.columns.limit", "limits that cannot be read", plain(&tally.limits)),
    ];
    let mut told: Vec<Warning> =
        lists.into_iter().filter_map(|(subject, text, met)| grouped(&files, subject, text, met)).collect();
    told.extend(counted(tally));
    told
}

/// Dates of sampling that are still to come. They hang on the clock, so no file tells of them.
pub(crate) fn after_today(plan: &Plan, tally: &Tally, today: Day) -> Option<Warning> {
    let text = format!(
        "dates after today, which by this machine's clock is at most {today}; unless benchmarks.as_of is given, the newest date \
         settles which limits are in force and which wells are due"
    );
    grouped(&Files { plan }, "results.columns.date", &text, plain(&tally.late))
}

/// Values that stand for wells and are younger than the day that the plan takes for now.
pub(crate) fn after_as_of(plan: &Plan, values: &[WellValue]) -> Option<Warning> {
    let day = plan.benchmarks.as_of?;
    let count = values.iter().filter(|value| value.day > day).count() as u64;
    let text = format!("values of samples taken after {day}; their ages, and what is due, are counted from that day");
    (count > 0).then(|| Warning { subject: "benchmarks.as_of".to_owned(), text, count, examples: Vec::new() })
}

/// A plan that lets public files tell of fewer wells than is usual.
pub(crate) fn small_groups(plan: &Plan) -> Option<Warning> {
    let text = match plan.smallest_group {
        SMALLEST_GROUP.. => return None,
        0 | 1 => "public files may tell of a single well, and so of a household".to_owned(),
        few => format!("public files may tell of as few as {few} wells; {SMALLEST_GROUP} or more are usual"),
    };
    Some(Warning { subject: "publish.smallest_group".to_owned(), text, count: 1, examples: Vec::new() })
}

fn grouped(files: &Files<'_>, subject: &str, text: &str, met: Vec<Met>) -> Option<Warning> {
    let count: u64 = met.iter().map(|(_, seen)| seen.count).sum();
    let shown = |(text, seen): &Met| format!("\"{text}\" ({}), {}", seen.count, files.shown(seen.first));
    let examples = met.iter().take(3).map(shown).collect();
    (count > 0).then(|| Warning { subject: subject.to_owned(), text: text.to_owned(), count, examples })
}

/// What is only counted.
fn counted(tally: &Tally) -> impl Iterator<Item = Warning> {
    [
        (
            "results.unit",
            "results in ppm, ppb or ppt, taken as mg/L, ug/L and ng/L (dilute fresh water)",
            tally.mass_ratios,
        ),
        (
            "results.unit",
            "counts of bacteria without a volume (MPN, CFU), taken as found or not found",
            tally.no_volume,
        ),
        ("results.columns.status", "results that the laboratory calls preliminary; they count", tally.preliminary),
        ("results", "parts of files that could not be split into cells", tally.damaged),
    ]
    .into_iter()
    .filter(|(_, _, count)| *count > 0)
    .map(|(subject, text, count)| Warning {
        subject: subject.to_owned(),
        text: text.to_owned(),
        count,
        examples: Vec::new(),
    })
}

/// The most frequent first.
fn ranked(mut met: Vec<Met>) -> Vec<Met> {
    met.sort_by(|a, b| b.1.count.cmp(&a.1.count).then_with(|| a.0.cmp(&b.0)));
    met
}

pub(crate) fn plain(texts: &Texts) -> Vec<Met> {
    ranked(texts.0.iter().map(|(text, seen)| (text.clone(), seen.clone())).collect())
}

fn pairs(texts: &Texts<(String, String)>) -> Vec<Met> {
    let named = |((one, other), seen): (&(String, String), &Seen)| (format!("{one}\" for \"{other}"), seen.clone());
    ranked(texts.0.iter().map(named).collect())
}

/// Text for the plan: one block for each `[[results]]` that has names, units or fractions nobody knows. Empty where
/// everything is known.
pub(crate) fn to_paste(plan: &Plan, dictionary: &Dictionary, tally: &Tally) -> String {
    let files = Files { plan };
    let blocks = (0..plan.results.len()).map(|part| of_part(&files, dictionary, tally, part));
    let blocks: Vec<String> = blocks.filter(|block| !block.is_empty()).collect();
    if blocks.is_empty() {
        return String::new();
    }
    format!("# To paste into the plan. Look at each line first: a wrong word moves results.\n{}", blocks.join("\n"))
}

fn of_part(files: &Files<'_>, dictionary: &Dictionary, tally: &Tally, part: usize) -> String {
    let here = |seen: &Seen| seen.parts.contains(&part);
    let names = plain(&tally.names).into_iter().filter(|(name, seen)| here(seen) && !name.is_empty() && name != OTHERS);
    let names: Vec<Met> = names.collect();
    let bases: Vec<Met> = plain(&tally.bases).into_iter().filter(|(_, seen)| here(seen)).collect();
    // Looking for the nearest known name takes long, so it is done for those that are shown.
    let mut lines: Vec<String> =
        names.iter().take(OFFERED).map(|(name, seen)| name_line(files, dictionary, name, seen)).collect();
    let left_out = names.len() - lines.len();
    lines.extend(bases.iter().map(|(name, seen)| basis_line(files, dictionary, name, seen)));
    let units = tally.units.0.iter().filter(|(_, seen)| here(seen));
    let units: Vec<Met> =
        units.map(|((unit, name), seen)| (unit_line(files, dictionary, unit, name, seen), seen.clone())).collect();
    let fractions =
        tally.fractions.0.iter().filter(|((word, _), seen)| here(seen) && dictionary.read_fraction(word).is_none());
    let fractions: Vec<Met> = fractions
        .map(|((word, name), seen)| {
            let text = "total, dissolved, particulate or not-stated";
            (format!("# {word:?} = \"...\"   # {}; {text}", met(files, seen, name)), seen.clone())
        })
        .collect();
    let block =
        [("names", lines, left_out), ("units", once(ranked(units)), 0), ("fractions", once(ranked(fractions)), 0)]
            .map(|(heading, lines, left_out)| table(heading, &lines, left_out))
            .concat();
    if block.is_empty() { block } else { format!("# results[{}]\n{block}", part + 1) }
}

/// Lines of one spelling, the most frequent of them alone: TOML has each key once.
fn once(lines: Vec<Met>) -> Vec<String> {
    let mut keys = std::collections::BTreeSet::new();
    let key = |line: &str| line.trim_start_matches("# ").split(" = ").next().unwrap_or_default().to_owned();
    lines.into_iter().map(|(line, _)| line).filter(|line| keys.insert(key(line))).collect()
}

fn table(heading: &str, lines: &[String], left_out: usize) -> String {
    if lines.is_empty() {
        return String::new();
    }
    let shown = lines.iter().take(OFFERED).map(|line| format!("{line}\n")).collect::<String>();
    let more = lines.len().saturating_sub(OFFERED) + left_out;
    let rest = if more > 0 { format!("# and {more} more, each met less often\n") } else { String::new() };
    format!("[results.{heading}]\n{shown}{rest}")
}

fn met(files: &Files<'_>, seen: &Seen, of: &str) -> String {
    let of = if of.is_empty() { String::new() } else { format!(" of {of:?}") };
    let results = if seen.count == 1 { "result" } else { "results" };
    format!("{} {results}{of}, first {}", seen.count, files.shown(seen.first))
}

/// Names less like than this are told as near and not offered as a line: "Odor" is no "Color".
const LIKE_ENOUGH: f64 = 0.75;

fn name_line(files: &Files<'_>, dictionary: &Dictionary, name: &str, seen: &Seen) -> String {
    let near = match dictionary.resolve(name) {
        NameOutcome::Unknown { nearest } => nearest,
        NameOutcome::Known(_) | NameOutcome::NeedsBasis(_) => Vec::new(),
    };
    let told = met(files, seen, "");
    let must_state = |id: &String| {
        let analytes = dictionary.analytes();
        analytes.find(id).and_then(|id| analytes.get(id)).is_some_and(|entry| entry.basis_must_be_stated)
    };
    match near.split_first() {
        Some((first, _)) if must_state(first) || dictionary.likeness(name, first) < LIKE_ENOUGH => {
            format!("# {name:?} = \"...\"   # {told}; nearest: {}", near.join(", "))
        }
        Some((first, [])) => format!("{name:?} = {first:?}   # {told}"),
        Some((first, more)) => format!("{name:?} = {first:?}   # {told}; or {}", more.join(", ")),
        None => format!("# {name:?} = \"...\"   # {told}; nothing in the dictionary is near"),
    }
}

/// A basis is never offered as a guess: as N and as NO3 are 4.4 times apart.
fn basis_line(files: &Files<'_>, dictionary: &Dictionary, name: &str, seen: &Seen) -> String {
    let analytes = dictionary.analytes();
    let mut ways: Vec<&str> = Vec::new();
    if let NameOutcome::Known(reading) | NameOutcome::NeedsBasis(reading) = dictionary.resolve(name) {
        ways.push(analytes.id(reading.analyte));
        ways.extend(analytes.ways().filter(|(main, _)| *main == reading.analyte).map(|(_, way)| way.id.as_str()));
    }
    format!("# {name:?} = \"...\"   # {}; ask the laboratory: {}", met(files, seen, ""), ways.join(" or "))
}

fn unit_line(files: &Files<'_>, dictionary: &Dictionary, unit: &str, name: &str, seen: &Seen) -> String {
    let told = met(files, seen, name);
    match near_unit(dictionary, unit, name) {
        Some(near) => format!("{unit:?} = {near:?}   # {told}"),
        None => format!("# {unit:?} = \"...\"   # {told}"),
    }
}

/// The unit of the dictionary that measures the analyte and is spelled most alike.
fn near_unit(dictionary: &Dictionary, unit: &str, name: &str) -> Option<String> {
    let (NameOutcome::Known(reading) | NameOutcome::NeedsBasis(reading)) = dictionary.resolve(name) else {
        return None;
    };
    let folded = unit.trim().to_lowercase();
    let units = dictionary.units();
    let fits = units.iter().filter(|(unit, _)| dictionary.convert(&reading, &units.reading(*unit, None)).is_ok());
    let scored = fits.map(|(_, name)| (strsim::normalized_damerau_levenshtein(&folded, &name.to_lowercase()), name));
    let near = scored.filter(|(score, _)| !folded.is_empty() && *score >= ALIKE);
    near.reduce(|best, next| if next.0 > best.0 { next } else { best }).map(|(_, name)| name.to_owned())
}
