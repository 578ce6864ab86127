//! The command line: what can be asked, and the words of its help.

use clap::{Parser, Subcommand, ValueEnum};
use std::path::PathBuf;

/// From a region's private-well laboratory results to tables, maps, a report and research files.
#[derive(Debug, Parser)]
#[command(name = "wellreeve", version, about, long_about = None, after_help = "Exit status: 0 done; 1 done, but the plan's own limits on data quality were passed; 2 the plan or a file could not be used, nothing written.")]
pub struct Cli {
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
}

/// What to do.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Do the whole job: read, normalise, place, summarise, compare, recommend and publish
    Run {
        /// The plan file (TOML)
        plan: PathBuf,
        /// Folder for everything that comes out; an earlier run's folder is replaced
        #[arg(long, default_value = "out")]
        out: PathBuf,
        /// Threads to use; the answers do not depend on it [default: all cores]
        #[arg(long, value_parser = clap::value_parser!(u16).range(1..=1024))]
        threads: Option<u16>,
        /// No progress on stderr
        #[arg(long)]
        quiet: bool,
    },
    /// Read everything and write nothing: print what `run` would set aside, and every problem found
    Check {
        /// The plan file (TOML)
        plan: PathBuf,
    },
    /// Look at result, well and map files and write a starter plan with guessed columns, each unsure guess marked
    Draft {
        /// Result, well and map files, in any order: text tables (csv, tsv), GeoJSON
        #[arg(required = true)]
        files: Vec<PathBuf>,
        /// Folder for plan.toml; it is made if need be, and a plan that is there is never replaced
        #[arg(long)]
        out: PathBuf,
    },
    /// For one well of a finished run, show every source line, what became of it, and why
    Trace {
        /// The folder that the run wrote
        out: PathBuf,
        /// The well's id, as the well list has it
        #[arg(long)]
        well: String,
        /// Only this analyte, by any of its names
        #[arg(long)]
        analyte: Option<String>,
    },
    /// Look something up in the built-in dictionary
    Terms {
        /// Which part of it
        #[arg(value_enum)]
        topic: Option<TermTopic>,
        /// A word to look up; without it the whole part is listed
        word: Option<String>,
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
