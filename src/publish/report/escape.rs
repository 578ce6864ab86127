//! Text from data into the page: escaped, and set apart so that its direction cannot turn the words around it.

/// Text fit for HTML content and attributes.
pub(super) fn html(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            '\u{0}' => {}
            other => out.push(other),
        }
    }
    out
}

/// Text of data inside `<bdi>`, escaped.
pub(super) fn apart(text: &str) -> String {
    format!("<bdi>{}</bdi>", html(text))
}

/// An anchor for any id: letters and digits as they are, all else by its code, so that two ids never share one.
pub(super) fn anchor(kind: &str, id: &str) -> String {
    let mut out = format!("{kind}-");
    for c in id.chars() {
        if c.is_ascii_alphanumeric() || c == '-' {
            out.push(c);
        } else {
            out.push_str(&format!("_{:x}_", u32::from(c)));
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn markup_of_data_is_text() {
        assert_eq!(apart("<b onclick='x'>&"), "<bdi>&lt;b onclick=&#39;x&#39;&gt;&amp;</bdi>");
    }

    #[test]
    fn anchors_are_plain_and_distinct() {
        assert_eq!(anchor("area", "T-1"), "area-T-1");
        assert_eq!(anchor("area", "a b"), "area-a_20_b");
        assert_ne!(anchor("area", "a_20_b"), anchor("area", "a b"));
    }
}
