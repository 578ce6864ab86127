//! The program: parses arguments, calls the library, prints and exits. Nothing else in the crate prints or exits.
#![forbid(unsafe_code)]

use clap::Parser;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use wellreeve::cli::{self, Cli, Command, TermTopic};
use wellreeve::dictionary::{Dictionary, Topic, lookup};
use wellreeve::place::crs::QUIET_ENVIRONMENT;
use wellreeve::plain::plain;
use wellreeve::problem::{Problem, Problems, Warning};
use wellreeve::progress::{Mode, Progress};
use wellreeve::{Outcome, Quality};

/// The plan or a file could not be used; nothing was written.
const UNUSABLE: u8 = 2;
/// Done, but the plan's own limits on data quality were passed.
const QUALITY_PASSED: u8 = 1;

fn main() -> ExitCode {
    let command = match Cli::try_parse() {
        Ok(cli) => cli.command,
        Err(told) => return told_by_parser(&told),
    };
    if let Some(status) = in_quiet_environment() {
        return status;
    }
    outlive_long_files();
    wellreeve::caught::quieten();
    match command {
        Command::Run { plan, out, threads, quiet } => {
            if let Some(threads) = threads {
                // Fails only if threads were already started, which nothing here does.
                let _ = rayon::ThreadPoolBuilder::new().num_threads(threads.into()).build_global();
            }
            let progress = Progress::new(if quiet { Mode::Quiet } else { Mode::Shown });
            stop_on_signals(progress.placed());
            match wellreeve::run(&plan, &out, &progress) {
                Ok(outcome) => {
                    if !quiet {
                        list_files(&outcome);
                        tell(&outcome.warnings);
                        complain(&summary(&outcome));
                        complain(&format!(
                            "Written to {}: open {}",
                            out.display(),
                            out.join("public").join("report.html").display()
                        ));
                    }
                    status(&outcome)
                }
                Err(problems) => unusable(&problems),
            }
        }
        Command::Check { plan } => check(&plan),
        Command::Draft { files, out } => draft(&files, &out),
        Command::Trace { out, well, analyte } => trace(&out, &well, analyte.as_deref()),
        Command::Terms { topic, word } => terms(topic, word.as_deref()),
        Command::Completions { shell } => print_out(&cli::completions(shell)),
        Command::Manual { command } => manual(command.as_deref()),
    }
}

/// Help and version are answers like any other; the rest is an argument that makes no sense.
fn told_by_parser(told: &clap::Error) -> ExitCode {
    let text = told.render().to_string();
    if !told.use_stderr() {
        return print_out(text.as_bytes());
    }
    complain(text.trim_end());
    ExitCode::from(UNUSABLE)
}

/// The accounting and all that is to be pasted to stdout, what is worth telling to stderr.
fn check(plan: &Path) -> ExitCode {
    let progress = Progress::new(Mode::Shown);
    stop_on_signals(progress.placed());
    match wellreeve::check(plan, &progress) {
        Ok(outcome) => {
            let heard = say(&accounting(&outcome));
            list_files(&outcome);
            tell(&outcome.warnings);
            let heard = heard && (outcome.to_paste.is_empty() || say(&format!("\n{}", outcome.to_paste)));
            if heard { status(&outcome) } else { ExitCode::from(UNUSABLE) }
        }
        Err(problems) => unusable(&problems),
    }
}

/// Ends the run at once, with a word, on Ctrl-C or when the system asks. The folder begun is left: removing it
/// could take long, and the next run does it.
fn stop_on_signals(placed: Arc<AtomicBool>) {
    use signal_hook::consts::{SIGINT, SIGTERM};
    // Without the watch a signal still ends the run, only without a word.
    let Ok(mut signals) = signal_hook::iterator::Signals::new([SIGINT, SIGTERM]) else { return };
    let watch = move || {
        if let Some(signal) = signals.forever().next() {
            complain(if placed.load(Ordering::SeqCst) {
                "Stopped after the new output was put in its place, which is whole. The next run clears what is left of the old one."
            } else {
                "Stopped: nothing was written; an earlier output is whole. The next run clears what this one began."
            });
            // As a shell counts an end by a signal. Nothing is cleaned up: libraries that other threads still use would be taken apart.
            signal_hook::low_level::exit(128 + signal);
        }
    };
    // Nor is a system without a further thread to give a reason to stop.
    let _ = std::thread::Builder::new().spawn(watch);
}

/// A file that grows past what the user is allowed (`ulimit -f`) is then a failed write, which is told, and not the end
/// of the process.
#[cfg(unix)]
fn outlive_long_files() {
    let _ = signal_hook::flag::register(signal_hook::consts::SIGXFSZ, Arc::default());
}

#[cfg(not(unix))]
fn outlive_long_files() {}

/// Starts the program once more where PROJ would see anything of the machine (its own data files, the user's folder):
/// the answer must hang on the inputs alone, and a process cannot safely change its own environment. `None` once
/// nothing is to be hidden.
fn in_quiet_environment() -> Option<ExitCode> {
    let quiet = |name: &str| QUIET_ENVIRONMENT.iter().find(|(known, _)| *known == name).map(|(_, value)| *value);
    let is_set = QUIET_ENVIRONMENT.iter().all(|(name, value)| std::env::var_os(name).is_some_and(|now| now == *value));
    let others: Vec<_> = std::env::vars_os()
        .map(|(name, _)| name)
        .filter(|name| name.to_str().is_some_and(|name| name.starts_with("PROJ_") && quiet(name).is_none()))
        .collect();
    if is_set && others.is_empty() {
        return None;
    }
    let mut again = std::process::Command::new(std::env::current_exe().ok()?);
    again.args(std::env::args_os().skip(1)).envs(QUIET_ENVIRONMENT);
    for name in &others {
        again.env_remove(name);
    }
    let error = become_it(&mut again);
    complain(&format!("cannot start anew without the machine's map files: {error}"));
    Some(ExitCode::from(UNUSABLE))
}

/// Replaces this process; returns only where that failed.
#[cfg(unix)]
fn become_it(command: &mut std::process::Command) -> std::io::Error {
    std::os::unix::process::CommandExt::exec(command)
}

/// Runs it and ends with its status; returns only where it could not be started.
#[cfg(not(unix))]
fn become_it(command: &mut std::process::Command) -> std::io::Error {
    match command.status() {
        Ok(status) => std::process::exit(status.code().unwrap_or(i32::from(UNUSABLE))),
        Err(error) => error,
    }
}

/// The plan's path to stdout, every doubt about it to stderr.
fn draft(files: &[PathBuf], out: &Path) -> ExitCode {
    let made = wellreeve::draft::draft(files, out);
    match made.and_then(|drafted| Ok((wellreeve::draft::write(&drafted.plan_text, out)?, drafted.doubts))) {
        Ok((plan, doubts)) => {
            for doubt in &doubts {
                complain(&format!("unsure: {doubt}"));
            }
            said(&plan.display().to_string())
        }
        Err(problems) => unusable(&problems),
    }
}

fn trace(out: &Path, well: &str, analyte: Option<&str>) -> ExitCode {
    let traced = Dictionary::built_in()
        .map_err(|fault| {
            Problems::from(Problem::file(out, "dictionary-faulty", fault.to_string(), "report this: it is a bug"))
        })
        .and_then(|dictionary| wellreeve::trace::trace(out, well, analyte, &dictionary));
    match traced {
        Ok(text) => said(&text),
        Err(problems) => {
            complain(&problems.listed());
            ExitCode::from(UNUSABLE)
        }
    }
}

fn terms(topic: Option<TermTopic>, word: Option<&str>) -> ExitCode {
    let dictionary = match Dictionary::built_in() {
        Ok(dictionary) => dictionary,
        Err(fault) => {
            complain(&fault.to_string());
            return ExitCode::from(UNUSABLE);
        }
    };
    let topics = match topic {
        Some(topic) => vec![topic_of(topic)],
        None => [TermTopic::Analytes, TermTopic::Units, TermTopic::Benchmarks, TermTopic::Columns, TermTopic::Reasons]
            .map(topic_of)
            .to_vec(),
    };
    let text: Vec<String> = topics.into_iter().map(|topic| lookup(&dictionary, topic, word)).collect();
    said(&text.iter().map(|part| part.trim_end()).collect::<Vec<_>>().join("\n"))
}

fn topic_of(topic: TermTopic) -> Topic {
    match topic {
        TermTopic::Analytes => Topic::Analytes,
        TermTopic::Units => Topic::Units,
        TermTopic::Benchmarks => Topic::Benchmarks,
        TermTopic::Columns => Topic::Columns,
        TermTopic::Reasons => Topic::Reasons,
    }
}

/// The accounting as an aligned list.
fn accounting(outcome: &Outcome) -> String {
    let mut text = format!("{:<11} {:<24} {:>12} {:>10}\n", "stage", "reason", "results", "wells");
    for row in outcome.accounting.rows.iter().filter(|row| row.results > 0 || row.reason.is_empty()) {
        text.push_str(&format!("{:<11} {:<24} {:>12} {:>10}\n", row.stage, row.reason, row.results, row.wells));
    }
    if let Some(first) = outcome.accounting.rows.iter().find(|row| row.results > 0 && !row.reason.is_empty()) {
        text.push_str(&format!(
            "(what a reason means and what would help: wellreeve terms reasons {})\n",
            first.reason
        ));
    }
    text
}

fn summary(outcome: &Outcome) -> String {
    let accounting = &outcome.accounting;
    format!(
        "{} results read, {} used, {} set aside or repeats.",
        accounting.read(),
        accounting.used(),
        accounting.read() - accounting.used()
    )
}

/// A line a results file.
fn list_files(outcome: &Outcome) {
    for (name, rows) in &outcome.files {
        complain(&format!("{rows:>12} results in {name}"));
    }
}

fn tell(warnings: &[Warning]) {
    for warning in warnings {
        complain(&format!("note: {}: {} ({})", warning.subject, warning.text, warning.count));
        for example in &warning.examples {
            complain(&format!("      {example}"));
        }
    }
}

fn status(outcome: &Outcome) -> ExitCode {
    match outcome.quality {
        Quality::Kept => ExitCode::SUCCESS,
        Quality::TooMuchSetAside(share) => {
            complain(&format!(
                "{:.0} % of the results were set aside, more than quality.most_set_aside allows",
                share * 100.0
            ));
            ExitCode::from(QUALITY_PASSED)
        }
    }
}

fn unusable(problems: &Problems) -> ExitCode {
    complain(&problems.to_string());
    ExitCode::from(UNUSABLE)
}

fn manual(command: Option<&str>) -> ExitCode {
    match cli::manual(command) {
        Ok(page) => print_out(&page),
        Err(known) => {
            complain(&format!("there is no such command; there are: {}", known.join(", ")));
            ExitCode::from(UNUSABLE)
        }
    }
}

/// Bytes to stdout as they are.
fn print_out(bytes: &[u8]) -> ExitCode {
    if put_out(bytes) { ExitCode::SUCCESS } else { ExitCode::from(UNUSABLE) }
}

/// All that was asked for.
fn said(text: &str) -> ExitCode {
    if say(text) { ExitCode::SUCCESS } else { ExitCode::from(UNUSABLE) }
}

/// To stdout: what was asked for. False, once told, where it could not be written.
fn say(text: &str) -> bool {
    put_out(format!("{}\n", plain(text.trim_end())).as_bytes())
}

/// A closed pipe is the reader's choice; a full disk is not.
fn put_out(bytes: &[u8]) -> bool {
    let mut out = std::io::stdout();
    match out.write_all(bytes).and_then(|()| out.flush()) {
        Err(error) if error.kind() != std::io::ErrorKind::BrokenPipe => {
            complain(&format!("the answer cannot be written: {error}"));
            false
        }
        _ => true,
    }
}

/// To stderr. Nobody can be told that it is closed.
fn complain(text: &str) {
    let _ = writeln!(std::io::stderr(), "{}", plain(text));
}
