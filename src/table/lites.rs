//! Lite patterns: how many lites each sash of an opening has, as the trade writes it.

/// The lites of each sash, the upper or the left first: `6`, `6/1`, `6 over 1`. `None` for anything else.
pub fn read_lites(text: &str) -> Option<Vec<u16>> {
    let lower = text.to_lowercase();
    let parts: Vec<u16> = lower
        .replace("over", "/")
        .split('/')
        .map(|part| {
            let part = part.trim();
            let plain = !part.is_empty() && part.bytes().all(|b| b.is_ascii_digit());
            part.parse().ok().filter(|n| plain && *n > 0)
        })
        .collect::<Option<_>>()?;
    Some(parts)
}

/// The plain form: `6/1`.
pub fn lites_text(lites: &[u16]) -> String {
    let parts: Vec<String> = lites.iter().map(u16::to_string).collect();
    parts.join("/")
}

#[cfg(test)]
mod tests {
    use super::{lites_text, read_lites};

    #[test]
    fn patterns_are_read_as_the_trade_writes_them() {
        for (text, lites) in [
            ("6", vec![6]),
            ("6/1", vec![6, 1]),
            (" 12 over 12 ", vec![12, 12]),
            ("2 / 2", vec![2, 2]),
        ] {
            assert_eq!(read_lites(text), Some(lites.clone()), "{text}");
            assert_eq!(read_lites(&lites_text(&lites)), Some(lites));
        }
        for text in ["", "/", "6/", "0/1", "six", "6-1", "1/2/", "+6", "6.5"] {
            assert_eq!(read_lites(text), None, "{text}");
        }
    }
}
