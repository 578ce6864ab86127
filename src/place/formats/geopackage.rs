//! A GeoPackage: one of its layers, read with its properties; the coordinate system is the one it keeps beside the layer.
//!
//! The database is held in memory as bytes that came through the one door, so it is hashed like any input and nothing is written
//! beside it. A file to which changes wait beside it, as a program that has it open leaves them, is refused: it would be read without them.
//!
//! Source: OGC 12-128r19 (GeoPackage), sections 1.1 and 2.1. From memory.

use super::guard;
use super::wkb::geopackage_geometry;
use crate::place::coordinates::Reproject;
use crate::place::features::{Feature, FeatureFault};
use crate::place::shape::Geometry;
use crate::problem::{Problem, nearest};
use rusqlite::types::ValueRef;
use rusqlite::{Connection, OptionalExtension};
use serde_json::{Map, Number, Value};
use std::io::Cursor;
use std::path::Path;

/// A layer as it stands in the database.
#[derive(Debug)]
pub(super) struct Table {
    rows: Vec<Row>,
}

#[derive(Debug)]
struct Row {
    properties: Map<String, Value>,
    geometry: Option<Vec<u8>>,
}

impl Table {
    /// Opens the layer named, or the only one; gives its coordinate system too.
    pub fn open(
        path: &Path,
        bytes: Vec<u8>,
        layer: Option<&str>,
        key: &str,
    ) -> Result<(Table, Option<String>), Problem> {
        nothing_waits(path, key)?;
        let told = |e: rusqlite::Error| {
            let found = format!("not a whole GeoPackage: {e}");
            Problem::file(path, "map-unreadable", found, "mend the file").under(format!("{key}.files"))
        };
        let size = bytes.len();
        let database = opened(bytes).map_err(told)?;
        let names = layers(&database).map_err(told)?;
        let name = chosen(&names, layer).map_err(|(found, wanted)| {
            Problem::file(path, "map-unreadable", found, wanted).under(format!("{key}.layer"))
        })?;
        let crs = system(&database, name).map_err(told)?;
        let rows = rows(&database, name, guard::Room::of(size)).map_err(told)?;
        Ok((Table { rows }, crs))
    }

    /// The names of a file's layers of features; none of a file that cannot be read.
    pub fn layers(bytes: Vec<u8>) -> Vec<String> {
        opened(bytes).and_then(|database| layers(&database)).unwrap_or_default()
    }

    /// Every row, in the order of the table's own numbers.
    pub fn features(&self, into: &impl Reproject) -> Result<Vec<Feature>, FeatureFault> {
        let one = |(number, row): (usize, &Row)| {
            let geometry = row.geometry.as_ref().map_or(Ok(Geometry::Empty), |blob| geopackage_geometry(blob, into));
            let geometry = geometry.map_err(|reason| FeatureFault::Geometry { feature: number, reason })?;
            Ok(Feature { number, properties: row.properties.clone(), geometry })
        };
        (1..).zip(&self.rows).map(one).collect()
    }
}

/// In write-ahead mode (SQLite's documentation, "Write-Ahead Logging"; from memory) changes are in a file beside it until the last program
/// closes it.
fn nothing_waits(path: &Path, key: &str) -> Result<(), Problem> {
    let mut beside = std::fs::canonicalize(path).unwrap_or_else(|_| path.to_path_buf()).into_os_string();
    beside.push("-wal");
    let beside = Path::new(&beside);
    if !std::fs::metadata(beside).is_ok_and(|about| about.len() > 0) {
        return Ok(());
    }
    let name = beside.file_name().unwrap_or_default().to_string_lossy().into_owned();
    let found = format!("changes to it wait in \"{name}\" beside it and would be missed");
    let wanted = "close the programs that have it open, or save the layer to a new file";
    Err(Problem::file(path, "map-unreadable", found, wanted).under(format!("{key}.files")))
}

/// Bytes 18 and 19 tell the way of writing; SQLite opens a database in memory only in the plain way.
fn opened(mut bytes: Vec<u8>) -> rusqlite::Result<Connection> {
    if let Some(ways) = bytes.get_mut(18..20) {
        ways.fill(1);
    }
    let mut database = Connection::open_in_memory()?;
    let size = bytes.len();
    database.deserialize_read_exact("main", Cursor::new(bytes), size, true)?;
    guard::set(&database, size)?; // nothing of the file was looked at so far
    Ok(database)
}

fn layers(database: &Connection) -> rusqlite::Result<Vec<String>> {
    let query = "SELECT table_name FROM gpkg_contents WHERE data_type = 'features' ORDER BY table_name";
    database.prepare(query)?.query_map([], |row| row.get(0))?.collect()
}

/// The layer to take, or what was found and what would do.
fn chosen<'a>(names: &'a [String], layer: Option<&str>) -> Result<&'a str, (String, String)> {
    let listed = names.iter().map(|name| format!("{name:?}")).collect::<Vec<_>>().join(", ");
    match (layer, names) {
        (_, []) => Err(("it has no layer of features".to_owned(), "name a file that has one".to_owned())),
        (None, [one]) => Ok(one),
        (None, _) => {
            Err((format!("it has {} layers: {listed}", names.len()), "name one of them under layer".to_owned()))
        }
        (Some(layer), _) => names.iter().find(|name| *name == layer).map(String::as_str).ok_or_else(|| {
            let near = nearest(layer, names.iter().map(String::as_str));
            let hint = near.map_or(String::new(), |name| format!(" (did you mean {name:?}?)"));
            (format!("it has no layer {layer:?}{hint}"), format!("the layers are: {listed}"))
        }),
    }
}

/// `EPSG:code` where the register is EPSG's, otherwise the definition as well-known text.
fn system(database: &Connection, layer: &str) -> rusqlite::Result<Option<String>> {
    let query = "SELECT s.organization, s.organization_coordsys_id, s.definition, s.srs_id
        FROM gpkg_geometry_columns g JOIN gpkg_spatial_ref_sys s ON s.srs_id = g.srs_id WHERE g.table_name = ?1";
    let read = |row: &rusqlite::Row<'_>| {
        let (register, code): (String, i64) = (row.get(0)?, row.get(1)?);
        let (definition, id): (String, i64) = (row.get(2)?, row.get(3)?);
        Ok(match register.to_uppercase().as_str() {
            _ if id <= 0 => None,
            "EPSG" => Some(format!("EPSG:{code}")),
            _ => Some(definition),
        })
    };
    Ok(database.query_row(query, [layer], read).optional()?.flatten())
}

fn rows(database: &Connection, layer: &str, mut room: guard::Room) -> rusqlite::Result<Vec<Row>> {
    let query = "SELECT column_name FROM gpkg_geometry_columns WHERE table_name = ?1";
    let shape_column: String = database.query_row(query, [layer], |row| row.get(0))?;
    let quoted = layer.replace('"', "\"\"");
    let mut statement = database.prepare(&format!("SELECT * FROM \"{quoted}\" ORDER BY rowid"))?;
    let names: Vec<String> = statement.column_names().into_iter().map(str::to_owned).collect();
    let mut found = statement.query([])?;
    let mut rows = Vec::new();
    while let Some(row) = found.next()? {
        let mut properties = Map::new();
        let mut geometry = None;
        for (at, name) in names.iter().enumerate() {
            let cell = row.get_ref(at)?;
            room.take(name.len() + cell_bytes(cell)).ok_or_else(guard::no_room)?;
            if *name == shape_column {
                geometry = cell.as_blob_or_null()?.map(<[u8]>::to_vec);
            } else {
                properties.insert(name.clone(), value(cell));
            }
        }
        rows.push(Row { properties, geometry });
    }
    Ok(rows)
}

fn cell_bytes(cell: ValueRef<'_>) -> usize {
    match cell {
        ValueRef::Text(bytes) | ValueRef::Blob(bytes) => bytes.len(),
        ValueRef::Null | ValueRef::Integer(_) | ValueRef::Real(_) => 0,
    }
}

fn value(cell: ValueRef<'_>) -> Value {
    match cell {
        ValueRef::Null | ValueRef::Blob(_) => Value::Null,
        ValueRef::Integer(x) => Value::from(x),
        ValueRef::Real(x) => Number::from_f64(x).map_or(Value::Null, Value::Number),
        ValueRef::Text(text) => Value::String(String::from_utf8_lossy(text).into_owned()),
    }
}
