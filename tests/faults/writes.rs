//! Every write, and every other change of the disk that a run makes, fails in turn.

use super::disk::{Behaviour, Calls, Faulty, Lasting, WORDS, all, tried};
use super::survey::Survey;
use std::collections::BTreeMap;
use std::io::ErrorKind;
use std::path::Path;
use wellreeve::problem::Problems;
use wellreeve::progress::{Mode, Progress};

pub type Files = BTreeMap<String, Vec<u8>>;

/// Every file under a folder, the manifest without its clock reading.
pub fn files(folder: &Path) -> Files {
    fn walk(base: &Path, folder: &Path, into: &mut Files) {
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                walk(base, &path, into);
                continue;
            }
            let name = path.strip_prefix(base).unwrap().to_string_lossy().into_owned();
            let mut bytes = std::fs::read(&path).unwrap();
            if name == "manifest.json" {
                let text = String::from_utf8(bytes).unwrap();
                bytes = text.lines().filter(|line| !line.contains("started_at")).collect::<Vec<_>>().join("\n").into();
            }
            into.insert(name, bytes);
        }
    }
    let mut found = Files::new();
    walk(folder, folder, &mut found);
    found
}

/// A survey with an earlier output and what a sound run would make of it now.
struct Before {
    survey: Survey,
    old: Files,
    new: Files,
}

fn run(survey: &Survey, disk: &Faulty, out: &str) -> Result<(), Problems> {
    let progress = Progress::new(Mode::Quiet);
    wellreeve::run_on(&disk.shared(), &survey.path("plan.toml"), &survey.path(out), &progress).map(|_| ())
}

impl Before {
    fn new() -> Before {
        let survey = Survey::new();
        let sound = Faulty::new(Behaviour::sound(Calls::Writing));
        run(&survey, &sound, "new").unwrap_or_else(|problems| panic!("{problems}"));
        let new = files(&survey.path("new"));
        std::fs::remove_dir_all(survey.path("new")).unwrap();
        let before = Before { old: Files::new(), new, survey };
        before.put_old();
        Before { old: files(&before.survey.path("out")), ..before }
    }

    /// The output of an earlier run that had other files.
    fn put_old(&self) {
        let _ = std::fs::remove_dir_all(self.survey.path("out"));
        self.survey.write("out/public/report.html", "an earlier report");
        self.survey.write("out/internal/list.csv", "well\nV-1\n");
        let listed = r#"{"outputs":{"public/report.html":{},"internal/list.csv":{}}}"#;
        self.survey.write("out/manifest.json", listed);
    }

    /// Publishes on a disk, and holds what came of it against the two states that are allowed.
    fn publish(&self, job: &Prepared, does: Behaviour) -> (Result<(), Problems>, u64) {
        let disk = Faulty::new(does);
        let came = job.publish(&disk, &self.survey.path("out"));
        let wanted = if came.is_ok() { &self.new } else { &self.old };
        let found = files(&self.survey.path("out"));
        assert!(found.keys().eq(wanted.keys()), "{does:?}: {:?}", found.keys());
        for (name, bytes) in wanted {
            assert!(*bytes == found[name], "{does:?}: {name} is not whole");
        }
        if came.is_ok() {
            self.put_old();
        }
        (came, disk.counted())
    }
}

/// The work before anything is written, done once.
struct Prepared {
    job: wellreeve::survey::Job,
    wells: wellreeve::place::Wells,
    survey: wellreeve::per_well::Survey,
    findings: wellreeve::summarise::Findings,
    comparison: wellreeve::compare::Comparison,
    advice: wellreeve::recommend::Advice,
    layers: Vec<wellreeve::layers::LayerFindings>,
}

impl Prepared {
    fn new(survey: &Survey) -> Prepared {
        use wellreeve::{compare, layers, per_well, place, recommend, summarise, survey as first_half};
        let job = first_half::prepare(&survey.path("plan.toml")).unwrap();
        let wells = place::wells(&job.plan, &job.inputs).unwrap();
        let keep = per_well::Keep::Rows { in_memory: 1000, folder: survey.path("") };
        let read = first_half::read(&job, &wells, keep, &Progress::new(Mode::Quiet)).unwrap();
        let findings = summarise::summarise(&job.plan, &job.dictionary, &wells, &read).unwrap();
        let comparison = compare::compare(&job.plan, &job.dictionary, &wells, &read, &findings).unwrap();
        let advice = recommend::recommend(&job.plan, &job.dictionary, &job.inputs, &wells, &read, &findings).unwrap();
        let layers = layers::layers(&job, &wells, &read).unwrap();
        Prepared { job, wells, survey: read, findings, comparison, advice, layers }
    }

    fn publish(&self, disk: &Faulty, out: &Path) -> Result<(), Problems> {
        let stage = wellreeve::publish::Stage::on(disk.shared(), out)?;
        let results = wellreeve::publish::Results {
            job: &self.job,
            wells: &self.wells,
            survey: &self.survey,
            findings: &self.findings,
            comparison: &self.comparison,
            advice: &self.advice,
            layers: &self.layers,
        };
        wellreeve::publish::publish(stage, &results, &Progress::new(Mode::Quiet))
    }
}

/// Each call fails in one of two ways; with `FAULTS=all` in both, and every call.
#[test]
fn every_write_may_fail() {
    let before = Before::new();
    let job = Prepared::new(&before.survey);
    let sound = Behaviour::sound(Calls::Writing);
    let (came, calls) = before.publish(&job, sound);
    came.unwrap_or_else(|problems| panic!("{problems}"));
    assert!(calls > 150, "{calls} calls");
    let (mut failed, mut made_good) = (0, 0);
    for fails_at in (1..=calls).filter(|number| tried(*number, calls, 9)) {
        let ways = [(Lasting::FromThenOn, ErrorKind::StorageFull), (Lasting::Once, ErrorKind::Other)];
        for (lasting, kind) in
            ways.into_iter().enumerate().filter(|(way, _)| all() || fails_at % 2 == *way as u64).map(|x| x.1)
        {
            let (came, _) = before.publish(&job, Behaviour { fails_at, lasting, kind, ..sound });
            match came {
                Err(problems) => {
                    let told = problems.to_string();
                    let words = if kind == ErrorKind::StorageFull { "the disk is full" } else { "cannot be written" };
                    assert!(told.contains("[out-unwritable]") && told.contains(words), "call {fails_at}: {told}");
                    assert!(told.contains("/out") || fails_at == 1, "call {fails_at} does not name the file: {told}");
                    failed += 1;
                }
                // A second name that cannot be given is a copy; a swap that cannot be is two renames.
                Ok(()) => made_good += 1,
            }
            assert!(!before.survey.begun(), "call {fails_at}: something is left");
        }
    }
    // A sample of the calls may miss those that are made good.
    assert!(failed > 2 * made_good && (made_good > 0 || !all()), "{failed} failed, {made_good} made good");
}

/// Where two folders cannot change places, the old one is moved aside, and comes back if the new one cannot come.
#[test]
fn the_old_output_comes_back_where_folders_cannot_be_swapped() {
    let before = Before::new();
    let job = Prepared::new(&before.survey);
    let sound = Behaviour { no_exchange: true, ..Behaviour::sound(Calls::Writing) };
    let (came, calls) = before.publish(&job, sound);
    came.unwrap_or_else(|problems| panic!("{problems}"));
    // The last four: swap, old one aside, new one in place, old one removed.
    for (back, lost) in [(3, false), (2, true), (1, true), (0, false)] {
        let (came, _) = before.publish(&job, Behaviour { fails_at: calls - back, lasting: Lasting::Once, ..sound });
        assert_eq!(came.is_err(), lost, "{back} calls before the last");
        // What could not be removed is cleared by the next run.
        let stage = wellreeve::publish::Stage::new(&before.survey.path("out")).unwrap();
        assert_eq!(stage.swept().len(), usize::from(back == 0));
        drop(stage);
        assert!(!before.survey.begun());
    }
    // Nothing works any more once the old one is aside: it cannot come back at once, and the next run brings it.
    let disk = Faulty::new(Behaviour { fails_at: calls - 1, lasting: Lasting::FromThenOn, ..sound });
    assert!(job.publish(&disk, &before.survey.path("out")).is_err());
    assert!(!before.survey.path("out").exists());
    let stage = wellreeve::publish::Stage::new(&before.survey.path("out")).unwrap();
    assert!(stage.swept().concat().contains("Put back"), "{:?}", stage.swept());
    drop(stage);
    assert_eq!(files(&before.survey.path("out")), before.old);
}

/// A file that somebody puts into the old output between the last look and the swap is never removed, in either way of swapping: the
/// old output is kept beside the new one.
#[test]
fn a_file_of_somebodys_is_never_removed() {
    for no_exchange in [false, true] {
        let before = Before::new();
        let job = Prepared::new(&before.survey);
        let sound = Behaviour::sound(Calls::Writing);
        let disk = Faulty::new(Behaviour { no_exchange, stranger: Some("mine.txt"), ..sound });
        job.publish(&disk, &before.survey.path("out")).unwrap_or_else(|problems| panic!("{problems}"));
        assert_eq!(files(&before.survey.path("out")), before.new, "the new output is whole");
        let names = std::fs::read_dir(before.survey.path("")).unwrap().map(|entry| entry.unwrap().file_name());
        let kept = names.into_iter().find(|name| name.to_string_lossy().starts_with("out-kept-")).unwrap();
        let mut wanted = before.old.clone();
        wanted.insert("mine.txt".to_owned(), b"mine".to_vec());
        assert_eq!(files(&before.survey.path("").join(kept)), wanted);
        // And no later run takes it away.
        job.publish(&Faulty::new(sound), &before.survey.path("out")).unwrap_or_else(|problems| panic!("{problems}"));
        let left = std::fs::read_dir(before.survey.path("")).unwrap().map(|entry| entry.unwrap().file_name());
        assert_eq!(left.filter(|name| name.to_string_lossy().starts_with("out-kept-")).count(), 1);
    }
}

/// Writes that take a few bytes at a time, and are interrupted, come to the same bytes and the same digests.
#[test]
fn short_and_interrupted_writes_make_the_same_files() {
    let before = Before::new();
    let job = Prepared::new(&before.survey);
    for (piece, interrupted) in [(Some(1009), false), (Some(64 << 10), true), (None, true)] {
        let does = Behaviour { piece, interrupted, ..Behaviour::sound(Calls::Writing) };
        before.publish(&job, does).0.unwrap_or_else(|problems| panic!("{does:?}: {problems}"));
    }
}

/// The words of an error that the system did not number do not come from it, since they may hold temporary names.
#[test]
fn a_fault_without_a_number_is_told_by_its_kind() {
    let before = Before::new();
    let disk = Faulty::new(Behaviour { fails_at: 3, kind: ErrorKind::TimedOut, ..Behaviour::sound(Calls::Writing) });
    let told = run(&before.survey, &disk, "out").unwrap_err().to_string();
    assert!(told.contains("timed out") && !told.contains(WORDS), "{told}");
}
