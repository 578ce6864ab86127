//! What a database that somebody sent may do while it is read: answer questions about what is in it, in bounds, and nothing else.
//!
//! A GeoPackage is a database, and a layer in it may be a view: a question written by whoever made the file. Such a question must
//! not open another database, go on for ever, or make more than the file holds. SQLite's own guards are set, and two of ours:
//! steps and bytes are counted, against the size of the file.
//!
//! Source: sqlite.org/security.html (from memory).

use rusqlite::config::DbConfig;
use rusqlite::hooks::{AuthAction, AuthContext, Authorization};
use rusqlite::limits::Limit;
use rusqlite::{Connection, Error, ffi};

/// Steps between two looks at the count.
const STRIDE: i32 = 1000;
/// Steps that any file may take, and more for each byte: a plain reading of a row takes a few for each cell.
const STEPS: u64 = 20_000_000;
const STEPS_A_BYTE: u64 = 200;
/// Bytes of the longest cell there may be at least; no cell of a table is longer than its file.
const LONGEST_CELL: usize = 1 << 20;

/// Sets the guards, before anything is asked.
pub(super) fn set(database: &Connection, bytes: usize) -> rusqlite::Result<()> {
    database.set_db_config(DbConfig::SQLITE_DBCONFIG_DEFENSIVE, true)?;
    database.set_db_config(DbConfig::SQLITE_DBCONFIG_TRUSTED_SCHEMA, false)?;
    database.set_db_config(DbConfig::SQLITE_DBCONFIG_ENABLE_TRIGGER, false)?;
    let longest = i32::try_from(bytes.max(LONGEST_CELL)).unwrap_or(i32::MAX);
    for (limit, most) in [
        (Limit::SQLITE_LIMIT_LENGTH, longest),
        (Limit::SQLITE_LIMIT_ATTACHED, 0),
        (Limit::SQLITE_LIMIT_EXPR_DEPTH, 100),
        (Limit::SQLITE_LIMIT_COMPOUND_SELECT, 50),
        (Limit::SQLITE_LIMIT_SQL_LENGTH, 1 << 20),
    ] {
        database.set_limit(limit, most)?;
    }
    database.authorizer(Some(|context: AuthContext<'_>| match context.action {
        AuthAction::Select | AuthAction::Read { .. } | AuthAction::Recursive => Authorization::Allow,
        AuthAction::Function { function_name } if function_name != "load_extension" => Authorization::Allow,
        _ => Authorization::Deny,
    }));
    let most = STEPS.saturating_add(STEPS_A_BYTE.saturating_mul(bytes as u64)) / STRIDE.unsigned_abs() as u64;
    let mut looks = 0;
    database.progress_handler(
        STRIDE,
        Some(move || {
            looks += 1;
            looks > most
        }),
    );
    Ok(())
}

/// What is told where there is no room.
pub(super) const NO_ROOM: &str = "its cells take more memory than the file's size explains";

/// `NO_ROOM` as an error of the database.
pub(super) fn no_room() -> Error {
    Error::SqliteFailure(ffi::Error::new(ffi::SQLITE_TOOBIG), Some(NO_ROOM.to_owned()))
}

/// What the cells of a layer may take together: each holds its column's name too.
pub(super) struct Room {
    left: usize,
}

impl Room {
    /// A gigabyte, or sixteen times the file's size where that is more.
    pub(super) fn of(bytes: usize) -> Room {
        Room::bytes(bytes.saturating_mul(16).max(1 << 30))
    }

    /// So many bytes.
    pub(super) fn bytes(left: usize) -> Room {
        Room { left }
    }

    /// Takes a cell's bytes; `None` where there is no room for them.
    pub(super) fn take(&mut self, bytes: usize) -> Option<()> {
        const BESIDES: usize = 64; // the cell's own place in memory, about
        self.left = self.left.checked_sub(bytes.saturating_add(BESIDES))?;
        Some(())
    }
}
