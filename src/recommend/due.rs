//! Why a well is due for a test, and what it asks for: made into a sentence only where it is written.

use crate::ids::Day;
use std::fmt::{Display, Formatter, Result};

/// Why a well is due; displayed as one sentence.
#[derive(Clone, Copy, Debug)]
pub enum Due<'a> {
    /// The last such test is too old.
    Last {
        /// The rule's name.
        rule: &'a str,
        /// Day of that test.
        day: Day,
    },
    /// There was no such test.
    Never {
        /// The rule's name.
        rule: &'a str,
    },
    /// It lies inside an event's outline.
    Event {
        /// The event.
        name: &'a str,
        /// Its day.
        day: Day,
        /// Day of the last test that would show what such an event brings.
        last: Option<Day>,
    },
    /// A sample was taken for a cause, and there was none for these tests since.
    Caused {
        /// Day of that sample.
        day: Day,
        /// The cause, as the sentence goes on with it.
        cause: &'static str,
    },
    /// Something was found once, and not tested since.
    Once {
        /// How it was.
        was: &'static str,
        /// Day.
        day: Day,
    },
}

impl Display for Due<'_> {
    fn fmt(&self, f: &mut Formatter<'_>) -> Result {
        match self {
            Due::Last { rule, day } => write!(f, "Last tested for the {rule} on {day}."),
            Due::Never { rule } => write!(f, "Never tested for the {rule} in this survey."),
            Due::Event { name, day, last: Some(last) } => {
                write!(
                    f,
                    "It lies inside the outline of {name} ({day}), and was last tested for what such an event may bring on {last}."
                )
            }
            Due::Event { name, day, last: None } => {
                write!(
                    f,
                    "It lies inside the outline of {name} ({day}), and was never tested for what such an event may bring."
                )
            }
            Due::Caused { day, cause } => {
                write!(f, "The sample of {day} was taken {cause}, and there is none for these tests since.")
            }
            Due::Once { was, day } => write!(f, "First {was} on {day}, and not tested again since."),
        }
    }
}
