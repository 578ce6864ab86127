//! Why a map could not be drawn.

use thiserror::Error;

/// Why a map could not be drawn.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum MapFault {
    /// Nothing has an outline, so there is nothing to fit the frame to.
    #[error("no area has an outline with at least three points")]
    NoOutline,
    /// A coordinate is not a number.
    #[error("the outline of {0} holds a coordinate that is not a finite number")]
    BadCoordinate(String),
    /// The class limits are not usable.
    #[error("class limits must rise, lie between 0 and 1 and be at most 4; found {0:?}")]
    BadBreaks(Vec<f64>),
    /// A rate is not a share of 1.
    #[error("the rate of {0} is not between 0 and 1")]
    BadRate(String),
    /// The embedded font did not load.
    #[error("the embedded font could not be used: {0}")]
    Font(String),
    /// The picture could not be encoded.
    #[error("the PNG could not be encoded: {0}")]
    Encode(String),
}
