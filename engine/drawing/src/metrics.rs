//! How wide text is: a fixed table, so that the layout is the same everywhere. Knows no fonts of the machine it runs on.

/// Widths of the printable ASCII characters, thousandths of the font size.
/// SOURCE: advance widths of the common sans-serif of PostScript printers (and of fonts made to its measure), from memory.
const ASCII: [u16; 95] = [
    278, 278, 355, 556, 556, 889, 667, 191, 333, 333, 389, 584, 278, 333, 278, 278, // space to /
    556, 556, 556, 556, 556, 556, 556, 556, 556, 556, 278, 278, 584, 584, 584, 556, // 0 to ?
    1015, 667, 667, 722, 722, 667, 611, 778, 722, 278, 500, 667, 556, 833, 722, 778, // @ to O
    667, 778, 722, 667, 611, 722, 667, 944, 667, 667, 611, 278, 278, 278, 469, 556, // P to _
    333, 556, 556, 500, 556, 556, 278, 556, 556, 222, 222, 500, 222, 833, 556, 556, // ` to o
    556, 556, 333, 500, 278, 556, 500, 722, 500, 500, 500, 334, 260, 334, 584, // p to ~
];
/// Other letters of the Latin and Greek alphabets.
const LATIN: u16 = 722;
/// Everything else.
const WIDE: u16 = 1000;
/// Room for fonts a little wider than the table.
const EASE: f64 = 1.04;

/// Gives the width of a text in a font size, rounded up to a half.
pub(crate) fn width(text: &str, size: f64) -> f64 {
    let thousandths: u32 = text.chars().map(|c| u32::from(char_width(c))).sum();
    (f64::from(thousandths) / 1000.0 * size * EASE * 2.0).ceil() / 2.0
}

fn char_width(c: char) -> u16 {
    let place = usize::try_from(u32::from(c)).unwrap_or(usize::MAX).checked_sub(32);
    match place.and_then(|place| ASCII.get(place)) {
        Some(width) => *width,
        None if c < '\u{500}' => LATIN,
        None => WIDE,
    }
}

/// Breaks a text at spaces (and a word too long at any letter) into lines no wider than `most`.
pub(crate) fn wrap(text: &str, size: f64, most: f64) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        let longer = lines.last().map(|line| format!("{line} {word}"));
        match (longer, lines.last_mut()) {
            (Some(longer), Some(line)) if width(&longer, size) <= most => *line = longer,
            _ => lines.extend(pieces(word, size, most)),
        }
    }
    lines
}

fn pieces(word: &str, size: f64, most: f64) -> Vec<String> {
    let mut pieces = vec![String::new()];
    for c in word.chars() {
        let longer = pieces.last().map_or_else(String::new, |piece| format!("{piece}{c}"));
        match pieces.last_mut() {
            Some(piece) if piece.is_empty() || width(&longer, size) <= most => *piece = longer,
            _ => pieces.push(c.to_string()),
        }
    }
    pieces
}

/// Gives the least width in which a text breaks into at most `lines` lines without breaking a word.
pub(crate) fn least_width(text: &str, size: f64, lines: usize) -> f64 {
    let words: Vec<&str> = text.split_whitespace().collect();
    let mut most = words.iter().map(|word| width(word, size)).fold(0.0, f64::max);
    let whole = width(text, size);
    while most < whole && wrap(text, size, most).len() > lines {
        most += 0.5;
    }
    most
}

#[cfg(test)]
mod tests {
    use super::{least_width, width, wrap};

    #[test]
    fn wider_letters_are_wider() {
        assert!(width("WWW", 8.0) > width("iii", 8.0));
        assert!(width("Ω", 8.0) > 0.0 && width("", 8.0).abs() < 1e-12);
    }

    #[test]
    fn text_breaks_at_spaces_and_loses_nothing() {
        let lines = wrap("right front surface switch", 8.0, 60.0);
        assert_eq!(lines.join(" "), "right front surface switch");
        assert!(lines.iter().all(|line| width(line, 8.0) <= 60.0), "{lines:?}");
    }

    #[test]
    fn word_too_long_for_the_line_is_broken_and_loses_no_letter() {
        assert_eq!(wrap("abcdefghijklmnopqrstuvwxyz", 8.0, 30.0).concat(), "abcdefghijklmnopqrstuvwxyz");
    }

    #[test]
    fn least_width_is_enough_for_its_lines() {
        for lines in 1..4 {
            let most = least_width("low-heat cycling thermostat", 8.0, lines);
            assert!(wrap("low-heat cycling thermostat", 8.0, most).len() <= lines);
        }
    }
}
