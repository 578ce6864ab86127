//! What the statistics have to say of a summary, in plain phrases.

use crate::methods::summary::Note;

/// The phrase of a note.
pub fn text(note: Note) -> String {
    let percent = |share: f64| format!("{:.0} %", share * 100.0);
    let number = crate::publish::number::text;
    match note {
        Note::TooFewDetects => "too few detects for an estimate".to_owned(),
        Note::TooManyNondetects => "more than 80 % are non-detects: shares only".to_owned(),
        Note::TooFewWells => "over half are non-detects and there are fewer than 5 wells: shares only".to_owned(),
        Note::ZeroOrBelow => "a value at or below zero has no logarithm: shares only".to_owned(),
        Note::OneDetectedValue => "all detects are alike: shares only".to_owned(),
        Note::UnplacedShare(share) => {
            format!("{} lies below the lowest detect; the mean puts it at the lowest limit", percent(share))
        }
        Note::QuantilesBelow(lowest) => format!("empty percentiles are below {}", number(lowest)),
        Note::ModelledQuantiles(share) => format!("percentiles up to {} are modelled", percent(share)),
        Note::NondetectsAboveDetects(count) => format!("{count} non-detects lie above every detect and are not used"),
        Note::LowerBounds(count) => format!("{count} above what could be measured: upper figures are lower bounds"),
        Note::ResamplesDropped(count) => format!("{count} resamples could not be summarised and were dropped"),
        Note::NoInterval(why) => format!("no interval: {why}"),
    }
}
