//! The command line: what can be asked, and the words of its help. `-h` is a summary, `--help` teaches.

use clap::{CommandFactory, Parser, Subcommand, ValueEnum};
use clap_complete::Shell;
use std::path::PathBuf;

const FIRST_TIME: &str = "\
A survey, from its files to its report:
  wellreeve draft lab/*.csv wells.csv townships.geojson --out survey/
  (read survey/plan.toml, mend what is marked as unsure)
  wellreeve check survey/plan.toml
  wellreeve run survey/plan.toml --out survey/out

Exit status:
  0  done
  1  done, but the plan's own limits on data quality were passed
  2  the plan or a file could not be used, and nothing was written; or the answer could not be printed
  130, 143  stopped by Ctrl-C or because the system asked";

/// From a region's private-well laboratory results to tables, maps, a report and research files.
///
/// One plan file names the laboratories' files, the list of wells, the areas and what else is known; one folder comes out. What the
/// results mean for a household, only a certified laboratory and the local health authority can say.
#[derive(Debug, Parser)]
#[command(name = "wellreeve", version, about, after_help = FIRST_TIME)]
pub struct Cli {
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
}

const RUN_HELP: &str = "\
What comes out:
  public/report.html      the page to read first; all of public/ and research/ may be published
  internal/follow-up.csv  wells that should not wait for a report; internal/ holds well ids and places: do not pass it on
  manifest.json           every input and output with its digest, every warning; it may name wells: do not publish it

The folder is made beside DIR and takes its place at the end, so a run that fails or is stopped leaves an earlier one whole. A folder
that holds files no run wrote is never replaced.

Example: wellreeve run survey/plan.toml --out survey/out";

const CHECK_HELP: &str = "\
On stdout: how many results count and why others do not, then names and units that nobody knows as lines to paste into the plan. On
stderr: what else was not understood, each with its file and line. Mend the plan and check again until nothing surprises you.

Example: wellreeve check survey/plan.toml";

const DRAFT_HELP: &str = "\
Every guess that is unsure is marked in the plan and listed on stderr. Prices, letters and what the files at hand do not hold
are for you to add; the README says what can be written.

Example: wellreeve draft lab/*.csv wells.xlsx townships.shp --out survey/";

const TRACE_HELP: &str = "\
For the household that asks what became of its sample. The output names the well: it is internal.

Example: wellreeve trace survey/out --well W-0412 --analyte nitrate";

const TERMS_HELP: &str = "\
Examples:
  wellreeve terms analytes \"NO3-N\"          what it is, its other names, its limits and their sources
  wellreeve terms units \"grains per gallon\"
  wellreeve terms columns exceedance        the columns of a table
  wellreeve terms reasons limit-missing     why results are set aside, and what would help";

const COMPLETIONS_HELP: &str = "\
Examples:
  wellreeve completions bash > ~/.local/share/bash-completion/completions/wellreeve
  wellreeve completions zsh > ~/.zfunc/_wellreeve
  wellreeve completions fish > ~/.config/fish/completions/wellreeve.fish";

const MANUAL_HELP: &str = "\
Examples:
  wellreeve manual > wellreeve.1 && man ./wellreeve.1
  wellreeve manual run > wellreeve-run.1";

/// What to do.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Do the whole job: read, normalise, place, summarise, compare, recommend and publish
    #[command(after_long_help = RUN_HELP)]
    Run {
        /// The plan file (TOML)
        plan: PathBuf,
        /// Folder for everything that comes out; an earlier run's folder is replaced
        #[arg(long, value_name = "DIR", default_value = "out")]
        out: PathBuf,
        /// Threads to use; the answers do not depend on it [default: all cores]
        #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=1024))]
        threads: Option<u16>,
        /// Only problems on stderr, neither progress nor notes
        #[arg(long)]
        quiet: bool,
    },
    /// Read everything and write nothing: print what `run` would set aside, and every problem found
    #[command(after_long_help = CHECK_HELP)]
    Check {
        /// The plan file (TOML)
        plan: PathBuf,
    },
    /// Look at result, well and map files and write a starter plan with guessed columns, each unsure guess marked
    #[command(after_long_help = DRAFT_HELP)]
    Draft {
        /// Result, well and map files, in any order: text tables (also packed), workbooks, Parquet, JSON lines, GeoJSON, shapefiles, GeoPackages
        #[arg(required = true, value_name = "FILE")]
        files: Vec<PathBuf>,
        /// Folder for plan.toml; it is made if need be, and a plan that is there is never replaced
        #[arg(long, value_name = "DIR")]
        out: PathBuf,
    },
    /// For one well of a finished run, show every source line, what became of it, and why
    #[command(after_long_help = TRACE_HELP)]
    Trace {
        /// The folder that the run wrote
        #[arg(value_name = "DIR")]
        out: PathBuf,
        /// The well's id, as the well list has it
        #[arg(long, value_name = "ID")]
        well: String,
        /// Only this analyte, by any of its names
        #[arg(long, value_name = "NAME")]
        analyte: Option<String>,
    },
    /// Look something up in the built-in dictionary
    #[command(after_long_help = TERMS_HELP)]
    Terms {
        /// Which part of it
        #[arg(value_enum)]
        topic: Option<TermTopic>,
        /// A word to look up; without it the whole part is listed
        word: Option<String>,
    },
    /// Print what a shell needs to complete commands and options
    #[command(after_long_help = COMPLETIONS_HELP)]
    Completions {
        /// The shell
        #[arg(value_enum)]
        shell: Shell,
    },
    /// Print a manual page (roff, for `man`)
    #[command(after_long_help = MANUAL_HELP)]
    Manual {
        /// The command it is about; without one, the whole program
        command: Option<String>,
    },
}

/// Parts of the dictionary.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum TermTopic {
    /// What laboratories measure, how they spell it, holding times
    Analytes,
    /// Units and their spellings
    Units,
    /// Limits, with their sources
    Benchmarks,
    /// Columns of the tables that come out
    Columns,
    /// Reasons why a result is set aside
    Reasons,
}

/// The script that completes for a shell.
pub fn completions(shell: Shell) -> Vec<u8> {
    let mut script = Vec::new();
    clap_complete::generate(shell, &mut Cli::command(), "wellreeve", &mut script);
    script
}

/// The manual page of the program or of one of its commands; the names of the commands where there is no such one.
///
/// # Errors
/// A command that does not exist.
pub fn manual(command: Option<&str>) -> Result<Vec<u8>, Vec<String>> {
    let mut program = Cli::command();
    program.build();
    let page = match command {
        None => program.clone().disable_help_subcommand(true),
        Some(name) => {
            let found = program.find_subcommand(name).cloned();
            let known = || program.get_subcommands().map(|known| known.get_name().to_owned()).collect::<Vec<_>>();
            found.map(|found| found.version(env!("CARGO_PKG_VERSION"))).ok_or_else(known)?
        }
    };
    let mut text = Vec::new();
    // Writing to memory does not fail.
    let _ = clap_mangen::Man::new(page).render(&mut text);
    Ok(text)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_shell_is_told_every_command_and_option() {
        Cli::command().debug_assert();
        for shell in Shell::value_variants() {
            let script = String::from_utf8(completions(*shell)).unwrap();
            for word in ["run", "check", "draft", "trace", "terms", "threads", "analyte"] {
                assert!(script.contains(word), "{shell}: {word}");
            }
        }
    }

    #[test]
    fn the_manual_has_a_page_for_every_command() {
        let page = |command| String::from_utf8(manual(command).unwrap()).unwrap();
        assert!(page(None).contains(".TH wellreeve 1") && page(None).contains("Exit status"));
        for command in ["run", "check", "draft", "trace", "terms", "completions", "manual"] {
            assert!(
                page(Some(command)).contains(&format!(".TH wellreeve\\-{command} 1").replace("\\-", "-")),
                "{command}"
            );
        }
        assert!(manual(Some("walk")).is_err_and(|known| known.contains(&"run".to_owned())));
    }

    /// Whoever asks for help reads an example of every command.
    #[test]
    fn every_help_has_an_example() {
        for command in Cli::command().get_subcommands() {
            let help = command.clone().render_long_help().to_string();
            assert!(help.contains(&format!("wellreeve {}", command.get_name())), "{help}");
        }
    }
}
