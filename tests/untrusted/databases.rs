//! GeoPackages whose layer is a question: one that never ends, one that makes more than memory holds, one that asks for other files.

use rusqlite::Connection;
use std::path::Path;
use std::time::{Duration, Instant};
use wellreeve::files::Inputs;
use wellreeve::place::formats::MapFile;
use wellreeve::problem::Problem;

const TABLES: &str = "PRAGMA application_id = 1196444487;
    CREATE TABLE gpkg_spatial_ref_sys (srs_name, srs_id INTEGER PRIMARY KEY, organization, organization_coordsys_id, definition);
    CREATE TABLE gpkg_contents (table_name, data_type, identifier, srs_id);
    CREATE TABLE gpkg_geometry_columns (table_name, column_name, geometry_type_name, srs_id, z, m);
    INSERT INTO gpkg_spatial_ref_sys VALUES ('x', 26915, 'EPSG', 26915, '');
    INSERT INTO gpkg_contents VALUES ('areas', 'features', 'areas', 26915);
    INSERT INTO gpkg_geometry_columns VALUES ('areas', 'geom', 'GEOMETRY', 26915, 0, 0);";

fn open(path: &Path, layer: &str) -> Result<MapFile, Problem> {
    let database = Connection::open(path).unwrap();
    database.execute_batch(&format!("{TABLES}{layer}")).unwrap();
    database.close().unwrap();
    MapFile::open(&Inputs::default(), path, None, "areas")
}

#[test]
fn a_plain_table_is_read() {
    let home = tempfile::tempdir().unwrap();
    let layer =
        "CREATE TABLE areas (fid INTEGER PRIMARY KEY, geom BLOB, code TEXT); INSERT INTO areas VALUES (1, NULL, 'W');";
    let map = open(&home.path().join("a.gpkg"), layer).unwrap();
    assert_eq!(map.features_as_written().unwrap().len(), 1);
}

#[test]
fn a_layer_that_is_a_question_ends_soon_and_reads_nothing_else() {
    let home = tempfile::tempdir().unwrap();
    let other = home.path().join("other.db");
    Connection::open(&other)
        .unwrap()
        .execute_batch("CREATE TABLE secret (x); INSERT INTO secret VALUES ('seen')")
        .unwrap();
    let columns = "NULL AS geom, 'W' AS code";
    let endless = "WITH RECURSIVE n(rowid) AS (SELECT 1 UNION ALL SELECT rowid + 1 FROM n)";
    for (number, layer) in [
        format!("CREATE VIEW areas AS {endless} SELECT rowid, {columns} FROM n;"),
        format!("CREATE VIEW areas AS {endless} SELECT max(rowid) AS rowid, {columns} FROM n;"),
        format!("CREATE VIEW areas AS {endless} SELECT rowid, NULL AS geom, zeroblob(200000000) AS code FROM n;"),
        format!("CREATE VIEW areas AS {endless} SELECT rowid, NULL AS geom, hex(zeroblob(100000000)) AS code FROM n;"),
        "CREATE VIEW areas AS SELECT 1 AS rowid, NULL AS geom, zeroblob(1000000000) AS code;".to_owned(),
        "CREATE VIEW areas AS SELECT 1 AS rowid, NULL AS geom, load_extension('/tmp/x') AS code;".to_owned(),
        "CREATE VIEW areas AS SELECT 1 AS rowid, NULL AS geom, readfile('/etc/hostname') AS code;".to_owned(),
        "CREATE VIEW areas AS SELECT 1 AS rowid, NULL AS geom, file AS code FROM pragma_database_list;".to_owned(),
    ]
    .iter()
    .enumerate()
    {
        let started = Instant::now();
        let told = open(&home.path().join(format!("{number}.gpkg")), layer).unwrap_err();
        assert_eq!(told.code, "map-unreadable", "{layer}");
        assert!(started.elapsed() < Duration::from_secs(60), "{layer} took {:?}", started.elapsed());
    }
    let before: Vec<_> = std::fs::read_dir(home.path()).unwrap().map(|entry| entry.unwrap().file_name()).collect();
    assert!(before.iter().all(|name| !name.to_string_lossy().contains("-journal")), "{before:?}");
}
