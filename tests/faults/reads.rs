//! Every read of every kind of input fails in turn; and reads of one byte, and interrupted ones, come to the same figures.

use super::disk::{Behaviour, Calls, Faulty, Lasting, WORDS, tried};
use super::survey::Survey;
use std::io::ErrorKind;
use wellreeve::per_well::Keep;
use wellreeve::problem::Problems;
use wellreeve::progress::{Mode, Progress};
use wellreeve::{place, recommend, survey as first_half};

/// Everything that is read, down to one value a well: how many results, their values, the digests of the inputs, all warnings.
fn read(survey: &Survey, disk: &Faulty) -> Result<String, Problems> {
    let job = first_half::prepare_on(&disk.shared(), &survey.path("plan.toml"))?;
    let wells = place::wells(&job.plan, &job.inputs)?;
    recommend::vet(&job.plan, &job.dictionary, &job.inputs, &wells)?;
    let read = first_half::read(&job, &wells, Keep::Nothing, &Progress::new(Mode::Quiet))?;
    let shares: Vec<_> =
        wells.ids().map(|well| (wells.area(well), wells.measure(well, 0), wells.measure(well, 1))).collect();
    let warnings = first_half::warnings(&wells, &read);
    Ok(format!("{:?}\n{:?}\n{shares:?}\n{:?}\n{warnings:?}", read.accounting, read.values, job.inputs.facts()))
}

fn sound(survey: &Survey) -> (String, u64) {
    let disk = Faulty::new(Behaviour::sound(Calls::Reading));
    let text = read(survey, &disk).unwrap_or_else(|problems| panic!("{problems}"));
    (text, disk.counted())
}

#[test]
fn short_and_interrupted_reads_come_to_the_same() {
    let survey = Survey::new();
    let (wanted, _) = sound(&survey);
    for (piece, interrupted) in [(Some(1), false), (Some(1), true), (Some(4093), true), (None, true)] {
        let does = Behaviour { piece, interrupted, ..Behaviour::sound(Calls::Reading) };
        let found = read(&survey, &Faulty::new(does)).unwrap_or_else(|problems| panic!("{does:?}: {problems}"));
        assert_eq!(found, wanted, "{does:?}");
    }
}

/// Whichever read fails, it is an error that names a file; nothing is taken for its end.
#[test]
fn every_read_may_fail() {
    let survey = Survey::new();
    let (_, calls) = sound(&survey);
    assert!(calls > 50, "{calls} reads");
    for fails_at in (1..=calls).filter(|number| tried(*number, calls, 5)) {
        let lasting = if fails_at % 2 == 0 { Lasting::Once } else { Lasting::FromThenOn };
        let does = Behaviour { fails_at, lasting, kind: ErrorKind::Other, ..Behaviour::sound(Calls::Reading) };
        let disk = Faulty::new(does);
        match read(&survey, &disk) {
            Ok(_) => panic!("nobody saw that this failed: {}", disk.failed()),
            Err(problems) => assert!(problems.to_string().contains(WORDS), "read {fails_at}: {problems}"),
        }
    }
}
