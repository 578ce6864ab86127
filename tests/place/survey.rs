//! Whole plans as far as the wells: made cells, areas of each format, a raster beside polygons.

use std::fs;
use std::path::{Path, PathBuf};
use wellreeve::files::Inputs;
use wellreeve::place::{Wells, wells};
use wellreeve::plan::load;
use wellreeve::problem::Problems;

fn file(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/place").join(name)
}

/// A plan around one list of wells; `rest` holds its areas and land uses, which are fixtures of this folder.
pub fn placed(list: &str, survey: &str, rest: &str) -> Result<Wells, Problems> {
    let folder = tempfile::tempdir().unwrap();
    for entry in fs::read_dir(file("")).unwrap().map(Result::unwrap) {
        fs::copy(entry.path(), folder.path().join(entry.file_name())).unwrap();
    }
    fs::write(folder.path().join("wells.csv"), list).unwrap();
    fs::write(folder.path().join("lab.csv"), "well,what,value\nW1,nitrate,1\n").unwrap();
    let plan = format!(
        "[survey]\ntitle = \"Larkmoor\"\n{survey}\n[[results]]\nfiles = [\"lab.csv\"]\nlayout = \"long\"\n\
         columns = {{ well = \"well\", analyte = \"what\", value = \"value\" }}\n\
         [[wells]]\nfiles = [\"wells.csv\"]\ncolumns = {{ well = \"well\", x = \"x\", y = \"y\", crs = \"crs\" }}\n\
         [benchmarks]\nsets = [\"us-mcl\"]\n{rest}\n"
    );
    let path = folder.path().join("plan.toml");
    fs::write(&path, plan).unwrap();
    let loaded = load(&path);
    assert_eq!(loaded.problems.to_string(), Problems::default().to_string());
    wells(&loaded.plan.unwrap(), &Inputs::default())
}

pub fn areas_of(wells: &Wells) -> Vec<Option<String>> {
    wells.ids().map(|well| wells.area(well).map(|area| wells.areas().id(area).to_owned())).collect()
}

const METRES: &str = "well,x,y,crs\n\
    W1,501000,4929300,EPSG:26915\nW2,501900,4929950,EPSG:26915\nW3,501000.5,4929300.5,EPSG:26915\n\
    W4,4929300,501000,EPSG:26915\nW5,,,EPSG:26915\nW6,502500,4928100,EPSG:26915\n";

#[test]
fn cells_are_made_around_the_wells() {
    let metres = "working_crs = \"EPSG:26915\"";
    let wells = placed(METRES, metres, "[areas]\ngrid = { kind = \"square\", size_m = 1000 }").unwrap();
    assert_eq!(wells.areas().ids, ["r01c01", "r01c02", "r02c03"]);
    let found: Vec<Option<String>> = areas_of(&wells);
    let cells = [Some("r01c01"), Some("r01c02"), Some("r01c02"), None, None, Some("r02c03")];
    assert_eq!(found, cells.map(|cell| cell.map(str::to_owned)));
    assert!(wells.warnings.iter().any(|warning| warning.text.contains("x and y look swapped")));
    let hexagons = placed(METRES, "", "[areas]\ngrid = { kind = \"hexagon\", size_m = 500 }").unwrap();
    assert_eq!(areas_of(&hexagons).iter().flatten().count(), 4);
}

#[test]
fn no_cell_without_a_well() {
    let nowhere = placed("well,x,y,crs\nW1,,,NAD83\n", "", "[areas]\ngrid = { kind = \"square\", size_m = 1000 }");
    assert!(nowhere.unwrap_err().to_string().contains("no well has a place"));
}

#[test]
fn a_raster_says_what_surrounds_a_well() {
    let rest = "[areas]\ngrid = { kind = \"square\", size_m = 1000 }\n[[land_use]]\nname = \"farming\"\n\
        measure = \"share\"\nfiles = [\"tiled.tif\"]\nclasses = [21, 22]\nradius_m = 400\nbands = [0.1, 0.4]";
    let wells = placed(METRES, "", rest).unwrap();
    let shares: Vec<Option<f64>> = wells.measures(0).collect();
    assert!((shares[0].unwrap() - 0.506_921_671_372).abs() < 1e-6, "{shares:?}");
    assert_eq!((shares[3], shares[4], shares[5]), (None, None, None));
    let note = "farming has no data for 4 % of the circle";
    assert_eq!(wells.site(wells.ids().next().unwrap()).unwrap().notes, [note]);
    assert!(wells.warnings.iter().any(|warning| warning.subject == "farming" && warning.count == 4));
}

#[test]
fn the_same_wells_are_in_the_same_areas_whatever_the_format() {
    let list = "well,x,y,crs\nW1,-93.45,44.55,WGS84\nW2,-93.47,44.53,WGS84\nW3,-93.4,44.55,WGS84\n\
        W4,-93.245,44.505,WGS84\nW5,-93.27,44.55,WGS84\n";
    let keys = "id = \"code\"\nname = \"label\"\nwells_on_record = \"wells\"";
    let of = |files: &str| placed(list, "", &format!("[areas]\n{files}\n{keys}")).unwrap();
    let geojson = of("files = [\"areas.geojson\"]");
    let expected = [Some("A1"), Some("A2"), Some("A1"), Some("A2"), None].map(|id| id.map(str::to_owned));
    assert_eq!(areas_of(&geojson), expected);
    for files in ["files = [\"areas.shp\"]", "files = [\"areas.gpkg\"]\nlayer = \"areas\"", "files = [\"latin1.shp\"]"]
    {
        let other = of(files);
        assert_eq!(areas_of(&other), expected, "{files}");
        assert_eq!(other.areas().names, geojson.areas().names, "{files}");
        assert_eq!(other.areas().wells_on_record, geojson.areas().wells_on_record, "{files}");
        let places = |wells: &Wells| wells.ids().map(|well| wells.xy(well)).collect::<Vec<_>>();
        assert_eq!(places(&other), places(&geojson), "{files}");
    }
}

#[test]
fn a_shapefile_that_does_not_name_its_system() {
    let folder = tempfile::tempdir().unwrap();
    for ending in ["shp", "dbf"] {
        fs::copy(file(&format!("areas.{ending}")), folder.path().join(format!("bare.{ending}"))).unwrap();
    }
    let path = folder.path().join("bare.shp");
    let map = wellreeve::place::formats::MapFile::open(&Inputs::default(), &path, None, "areas").unwrap();
    assert_eq!(map.crs(), None);
}

/// 500 points in and around the counties of Maryland, each named by another library (`make_counties.py`; us-atlas 3.0.1, from
/// the U.S. Census Bureau).
#[test]
fn wells_are_in_the_counties_that_another_library_names() {
    let list = fs::read_to_string(file("counties-wells.csv")).unwrap();
    let named: Vec<Option<String>> = list
        .lines()
        .skip(1)
        .map(|line| line.rsplit(',').next().filter(|county| !county.is_empty()).map(str::to_owned))
        .collect();
    let areas = "[areas]\nfiles = [\"counties.geojson\"]\nid = \"code\"\nname = \"label\"";
    let wells = placed(&list, "", areas).unwrap();
    let found = areas_of(&wells);
    assert!(named.iter().flatten().count() > 150, "a fair part lies in some county");
    let apart: Vec<String> = found
        .iter()
        .zip(&named)
        .zip(1..)
        .filter(|((found, named), _)| found != named)
        .map(|((found, named), line)| format!("W{line:03}: {found:?}, not {named:?}"))
        .collect();
    assert_eq!(apart, Vec::<String>::new());
}
