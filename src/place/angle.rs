//! A coordinate's text becomes a number: plain, or in degrees, minutes and seconds.
//!
//! `93° 48' 25.1" W`, `N43 17 16.8`, `-93:48:25`, `93-48-25W` and `93.807 W` are all read; the marks between the parts
//! are not looked at closely, since every register has its own. What is not plain counts as a repair, because a
//! misread mark moves a well by kilometres: the caller lists it and asks the plan.

/// A coordinate as read.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Angle {
    /// A plain number.
    Plain(f64),
    /// Degrees from parts or with a letter of the compass.
    Parts(f64),
}

/// A plain number, with either decimal mark.
pub(crate) fn plain(text: &str) -> Option<f64> {
    text.replace(',', ".").parse::<f64>().ok().filter(|x| x.is_finite())
}

/// Reads a coordinate in degrees; `None` for anything else.
pub(crate) fn read(text: &str) -> Option<Angle> {
    plain(text).map(Angle::Plain).or_else(|| parts(text).map(Angle::Parts))
}

/// Degrees from their parts.
fn parts(text: &str) -> Option<f64> {
    let upper = text.trim().to_uppercase();
    let letter = |c: &char| "NSEW".contains(*c);
    let (first, last) = (upper.chars().next().filter(letter), upper.chars().next_back().filter(letter));
    // S behind a number may be seconds; it is the south only where no other letter says the side.
    let (side, body) = match (first, last) {
        (Some(side), _) => (Some(side), upper.get(1..)?),
        (None, Some(side)) => (Some(side), upper.get(..upper.len() - 1)?),
        (None, None) => (None, upper.as_str()),
    };
    let body = body.trim();
    let (minus, body) = body.strip_prefix(['-', '−']).map_or((false, body), |rest| (true, rest));
    let pieces: Vec<&str> = body.split(|c: char| !(c.is_ascii_digit() || c == '.')).filter(|p| !p.is_empty()).collect();
    let between = body.chars().filter(|c| !c.is_ascii_digit() && *c != '.');
    if !between.into_iter().all(|c| " °º˚'’′`\"”″:-DEGMINSEC.".contains(c)) {
        return None;
    }
    let size = whole(&pieces)?;
    (pieces.len() > 1 || side.is_some()).then_some(if minus || matches!(side, Some('S' | 'W')) { -size } else { size })
}

/// Degrees, minutes and seconds; only the last may be broken, and none runs over.
fn whole(pieces: &[&str]) -> Option<f64> {
    let (last, before) = pieces.split_last()?;
    if pieces.len() > 3 || before.iter().any(|piece| piece.contains('.')) {
        return None;
    }
    let mut sum = 0.0;
    for (place, piece) in before.iter().chain([last]).enumerate() {
        let number: f64 = piece.parse().ok()?;
        let (part, most) = [(1.0, 180.0), (60.0, 60.0), (3600.0, 60.0)].get(place).copied()?;
        if number > most || (place > 0 && number >= most) {
            return None;
        }
        sum += number / part;
    }
    Some(sum)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn degrees_minutes_and_seconds_in_any_dress() {
        let west = -(93.0 + 48.0 / 60.0 + 25.2 / 3600.0);
        for text in ["93° 48' 25.2\" W", "W 93 48 25.2", "-93:48:25.2", "93-48-25.2W", "93d48m25.2s W", "93º48’25.2”W"]
        {
            match read(text) {
                Some(Angle::Parts(x)) => assert!((x - west).abs() < 1e-12, "{text}: {x}"),
                other => panic!("{text}: {other:?}"),
            }
        }
        assert_eq!(read("43 30"), Some(Angle::Parts(43.5)));
        assert_eq!(read("43.5 N"), Some(Angle::Parts(43.5)));
        assert_eq!(read("-93,807"), Some(Angle::Plain(-93.807)));
    }

    #[test]
    fn what_cannot_be_degrees_is_not_read() {
        for text in ["", "W", "unknown", "43 75 10", "43 10 60", "43.5 10", "1 2 3 4", "500 10", "43 N 10 x", "n/a"] {
            assert_eq!(read(text), None, "{text}");
        }
    }
}
