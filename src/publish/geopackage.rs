//! wells.gpkg (internal): the wells as a layer for any geographic information system.
//!
//! A GeoPackage is an SQLite database with tables of fixed names. It is built in memory and written whole; its one date is the
//! day that the survey's limits refer to, so that the same survey gives the same bytes. Points are longitude and latitude on
//! WGS 84; a well without a location is there without a point.
//!
//! Source: OGC GeoPackage Encoding Standard 1.3 (OGC 12-128r17): clauses 1.1.1.1.1 (application id), 1.1.2 (gpkg_spatial_ref_sys),
//! 1.1.3 (gpkg_contents), 2.1.3 (binary geometry), 2.1.5 (gpkg_geometry_columns). From memory.

use super::{Results, Stage};
use crate::ids::WellId;
use crate::place::shape::Point;
use crate::problem::Problem;
use rusqlite::types::Value;
use rusqlite::{Connection, MAIN_DB, params, params_from_iter};

const NAME: &str = "internal/wells.gpkg";

/// Writes it; `places` are the wells' longitudes and latitudes.
///
/// # Errors
/// A folder that cannot be written.
pub fn write(stage: &Stage, results: &Results<'_>, places: &[Option<Point>]) -> Result<(), Problem> {
    let fault =
        |found: String| Problem::file(std::path::Path::new(NAME), "out-unwritable", found, "report this: it is a bug");
    let base = database(results, places).map_err(fault)?;
    let bytes = base.serialize(MAIN_DB).map_err(|error| fault(error.to_string()))?; // freed at once, not copied again
    stage.write(NAME, &bytes, Some(results.wells.len() as u64))
}

fn database(results: &Results<'_>, places: &[Option<Point>]) -> Result<Connection, String> {
    let said = |error: rusqlite::Error| error.to_string();
    let base = Connection::open_in_memory().map_err(said)?;
    base.execute_batch(SCHEMA).map_err(said)?;
    contents(&base, results).map_err(said)?;
    rows(&base, results, places).map_err(said)?;
    base.execute_batch("COMMIT").map_err(said)?;
    Ok(base)
}

/// Tables that every GeoPackage has, and the three reference systems that it must know.
const SCHEMA: &str = r#"
PRAGMA application_id = 0x47504B47;
PRAGMA user_version = 10300;
BEGIN;
CREATE TABLE gpkg_spatial_ref_sys (srs_name TEXT NOT NULL, srs_id INTEGER NOT NULL PRIMARY KEY,
  organization TEXT NOT NULL, organization_coordsys_id INTEGER NOT NULL, definition TEXT NOT NULL, description TEXT);
CREATE TABLE gpkg_contents (table_name TEXT NOT NULL PRIMARY KEY, data_type TEXT NOT NULL, identifier TEXT UNIQUE,
  description TEXT DEFAULT '', last_change DATETIME NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ','now')),
  min_x DOUBLE, min_y DOUBLE, max_x DOUBLE, max_y DOUBLE, srs_id INTEGER,
  CONSTRAINT fk_gc_r_srs_id FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys(srs_id));
CREATE TABLE gpkg_geometry_columns (table_name TEXT NOT NULL, column_name TEXT NOT NULL, geometry_type_name TEXT NOT NULL,
  srs_id INTEGER NOT NULL, z TINYINT NOT NULL, m TINYINT NOT NULL,
  CONSTRAINT pk_geom_cols PRIMARY KEY (table_name, column_name), CONSTRAINT uk_gc_table_name UNIQUE (table_name),
  CONSTRAINT fk_gc_tn FOREIGN KEY (table_name) REFERENCES gpkg_contents(table_name),
  CONSTRAINT fk_gc_srs FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys (srs_id));
INSERT INTO gpkg_spatial_ref_sys VALUES ('Undefined Cartesian SRS', -1, 'NONE', -1, 'undefined', NULL);
INSERT INTO gpkg_spatial_ref_sys VALUES ('Undefined geographic SRS', 0, 'NONE', 0, 'undefined', NULL);
INSERT INTO gpkg_spatial_ref_sys VALUES ('WGS 84', 4326, 'EPSG', 4326,
  'GEOGCS["WGS 84",DATUM["WGS_1984",SPHEROID["WGS 84",6378137,298.257223563]],PRIMEM["Greenwich",0],UNIT["degree",0.0174532925199433],AXIS["Latitude",NORTH],AXIS["Longitude",EAST],AUTHORITY["EPSG","4326"]]', NULL);
"#;

fn contents(base: &Connection, results: &Results<'_>) -> rusqlite::Result<()> {
    let columns: String =
        columns(results).iter().map(|(name, kind)| format!(", \"{}\" {kind}", name.replace('"', "\"\""))).collect();
    base.execute_batch(&format!(
        "CREATE TABLE wells (fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, geom POINT{columns})"
    ))?;
    let day = results.findings.as_of.map_or("1970-01-01".to_owned(), |day| day.to_string());
    base.execute(
        "INSERT INTO gpkg_contents (table_name, data_type, identifier, description, last_change, srs_id)
         VALUES ('wells', 'features', 'wells', 'INTERNAL: well ids and locations; not to be published', ?1, 4326)",
        params![format!("{day}T00:00:00.000Z")],
    )?;
    base.execute("INSERT INTO gpkg_geometry_columns VALUES ('wells', 'geom', 'POINT', 4326, 0, 0)", [])?;
    Ok(())
}

/// Names and types, in the order of `values`.
fn columns(results: &Results<'_>) -> Vec<(String, &'static str)> {
    let mut columns = vec![("well".to_owned(), "TEXT"), ("area_id".to_owned(), "TEXT")];
    columns.extend(results.wells.further().iter().map(|layer| (layer.called.clone(), "TEXT")));
    columns.extend(results.job.plan.land_use.iter().map(|land_use| (land_use.name.clone(), "REAL")));
    columns.extend(["uncertainty_m", "depth_m"].map(|name| (name.to_owned(), "REAL")));
    columns.push(("notes".to_owned(), "TEXT"));
    columns
}

fn rows(base: &Connection, results: &Results<'_>, places: &[Option<Point>]) -> rusqlite::Result<()> {
    let marks = vec!["?"; columns(results).len() + 1].join(", ");
    let mut insert = base.prepare(&format!("INSERT INTO wells VALUES (NULL, {marks})"))?;
    let mut extent: Option<[f64; 4]> = None;
    for (well, at) in results.wells.ids().zip(places.iter().copied()) {
        let mut row = vec![at.map_or(Value::Null, |at| Value::Blob(point(at)))];
        row.extend(values(results, well));
        insert.execute(params_from_iter(row))?;
        if let Some([x, y]) = at {
            let [west, south, east, north] = extent.unwrap_or([x, y, x, y]);
            extent = Some([west.min(x), south.min(y), east.max(x), north.max(y)]);
        }
    }
    let [west, south, east, north] = extent.unwrap_or([0.0; 4]);
    let sql = "UPDATE gpkg_contents SET min_x = ?1, min_y = ?2, max_x = ?3, max_y = ?4";
    base.execute(sql, params![west, south, east, north])?;
    Ok(())
}

fn values(results: &Results<'_>, well: WellId) -> Vec<Value> {
    let wells = results.wells;
    let text = |text: Option<&str>| text.map_or(Value::Null, |text| Value::Text(text.to_owned()));
    let number = |x: Option<f64>| x.map_or(Value::Null, |x| Value::Real(super::number::rounded(x)));
    let site = wells.site(well);
    let mut row = vec![text(Some(wells.id(well))), text(wells.area(well).map(|area| wells.areas().id(area)))];
    row.extend(wells.further().iter().map(|layer| text(layer.wells.area(well).map(|a| layer.wells.areas().id(a)))));
    let measure = |n| wells.measure(well, n).or_else(|| wells.average(well, n).map(|(mean, _)| mean));
    row.extend((0..results.job.plan.land_use.len()).map(|n| number(measure(n))));
    row.extend([number(site.and_then(|s| s.uncertainty_m)), number(site.and_then(|s| s.depth_m))]);
    let notes = site.map(|s| s.notes.join("; ")).filter(|notes| !notes.is_empty());
    row.push(text(notes.as_deref()));
    row
}

/// A point: "GP", version 0, flags (little-endian, no envelope), reference system, and well-known binary.
fn point([x, y]: [f64; 2]) -> Vec<u8> {
    let mut bytes = vec![b'G', b'P', 0, 1];
    bytes.extend(4326_i32.to_le_bytes());
    bytes.push(1);
    bytes.extend(1_u32.to_le_bytes());
    bytes.extend(x.to_le_bytes());
    bytes.extend(y.to_le_bytes());
    bytes
}
