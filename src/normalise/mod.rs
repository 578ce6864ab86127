//! Text becomes an interval in one unit, a day and a kind, or a reason why the result does not count.
//!
//! Comes in: raw blocks. Goes out: `Block`s of the same results in the same order, each with its reading and, where
//! the row itself shows one, its reason. Nothing goes wrong here: what cannot be read is set aside by name. Spellings
//! are decided once a block, not once a row.

mod block;
mod date;
mod flags;
mod interval;
mod kind;
mod number;
mod packed;
mod rules;
mod spelling;
mod tally;
mod value;
mod words;

pub use block::{Block, Row, Span, block};
pub use date::{DateText, Dates, Moment, SERIALS};
pub use flags::Flags;
pub use interval::{Facts, Sign, interval};
pub use kind::{method, sample_kind};
pub use number::Marks;
pub use packed::{pack, unpack};
pub use rules::Rules;
pub use spelling::{Decision, Spelling};
pub use tally::{OTHERS, Place, Seen, Tally, Texts};
pub use value::{Reading, Said, read, unit_behind};
pub use words::Words;
