//! Decides whether a text is a CAS registry number. The last digit is a check digit: the sum of the other
//! digits, each times its place counted from the right, modulo 10 (CAS, "Check Digit Verification of CAS
//! Registry Numbers"; from memory, agrees with every number in the analyte table). A number that fails
//! is never looked up, since one wrong digit may name another substance.

/// The number itself when `text` is a CAS number whose check digit holds.
pub(super) fn verified(text: &str) -> Option<&str> {
    let text = text.trim();
    let bare = text.strip_prefix("CAS").unwrap_or(text);
    let bare = bare.trim_start_matches([' ', ':', '#']);
    let mut parts = bare.split('-');
    let (long, pair, check) = (parts.next()?, parts.next()?, parts.next()?);
    let shaped = (2..=7).contains(&long.len()) && pair.len() == 2 && check.len() == 1;
    let digits = bare.bytes().all(|b| b.is_ascii_digit() || b == b'-');
    if !shaped || !digits || parts.next().is_some() {
        return None;
    }
    (check_digit(long.bytes().chain(pair.bytes())) == check.parse::<u32>().ok()?).then_some(bare)
}

fn check_digit(digits: impl DoubleEndedIterator<Item = u8>) -> u32 {
    let weighted = digits.rev().zip(1u32..);
    weighted.map(|(b, place)| u32::from(b - b'0') * place).sum::<u32>() % 10
}

#[cfg(test)]
mod tests {
    use super::verified;

    #[test]
    fn check_digit_of_water_and_arsenic() {
        // Water 7732-18-5 is the worked example of CAS itself (from memory).
        assert_eq!(verified("7732-18-5"), Some("7732-18-5"));
        assert_eq!(verified("CAS 7440-38-2"), Some("7440-38-2"));
        assert_eq!(verified("7440-38-3"), None);
        assert_eq!(verified("1071-53-6"), None, "the misprint for glyphosate");
    }

    #[test]
    fn other_texts_are_no_numbers() {
        for text in ["", "2,4-D", "1-2-3", "7440-38", "2024-05-06", "7440-38-2-1"] {
            assert_eq!(verified(text), None, "{text}");
        }
    }
}
