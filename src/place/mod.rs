//! Wells get a place: the area they lie in and what surrounds them.
//!
//! Comes in: the plan's well lists, area layer and land-use layers. Goes out: `Wells`, and blocks of rows joined to it.
//! Can go wrong: files that cannot be read, layers without the ids the plan names, unknown coordinate systems. A
//! location may be rejected, with the repair that would fit; a result never. `crs` alone uses PROJ.

pub(crate) mod angle;
pub mod arc;
pub mod areas;
pub mod bounds;
pub mod cells;
pub mod checks;
pub mod circle;
pub mod coordinates;
pub mod crs;
pub mod density;
pub mod disc;
pub mod features;
pub mod formats;
pub mod hexes;
mod join;
mod landuse;
mod layers;
mod listed;
mod measure;
pub mod names;
pub mod near_points;
pub mod nearby;
pub mod nearest;
pub mod overlap;
pub mod polygons;
pub mod raster;
mod region;
mod register;
pub mod repair;
pub mod shape;
mod spots;
pub mod spread;
mod wells;
pub mod working;

pub use areas::Areas;
pub use join::locate;
pub use layers::{MapFiles, polygons_of};
pub use polygons::PolygonSet;
pub use region::Region;
pub use wells::{Further, Wanted, Wells, wells, wells_with};
