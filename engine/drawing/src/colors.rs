//! Wire colours as the sheets of a market abbreviate them. Knows what a colour is called, not what it means.

use machine::model::{Machine, SupplyKind};

/// Whose sheets the colours are abbreviated after.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Market {
    /// North America: `BK`, `W`, `R`, `R/W`.
    NorthAmerica,
    /// IEC 60757: `BK`, `WH`, `RD`, `RDWH`.
    Iec,
}

/// Colour word, code in North America, code of IEC 60757, and what it looks like.
/// SOURCE: IEC 60757 and the usual sheets of North America, from memory.
const COLORS: [(&str, &str, &str, &str); 15] = [
    ("black", "BK", "BK", "#1a1a1a"),
    ("white", "W", "WH", "#ffffff"),
    ("red", "R", "RD", "#d32222"),
    ("blue", "BU", "BU", "#2257c9"),
    ("yellow", "Y", "YE", "#f2cf1d"),
    ("green", "GN", "GN", "#1f8a3b"),
    ("orange", "O", "OG", "#ee7c12"),
    ("brown", "BR", "BN", "#7a4a21"),
    ("violet", "V", "VT", "#7d3fb0"),
    ("purple", "V", "VT", "#7d3fb0"),
    ("grey", "GY", "GY", "#8c8c8c"),
    ("gray", "GY", "GY", "#8c8c8c"),
    ("pink", "PK", "PK", "#f08fb0"),
    ("tan", "T", "BG", "#cfae82"),
    ("turquoise", "TQ", "TQ", "#25b5b0"),
];

/// Says whose sheets go with a machine: one leg at 50 Hz is IEC's.
#[must_use]
pub fn market_of(machine: &Machine) -> Market {
    let iec = machine.supply.kind == SupplyKind::SinglePhase && machine.hertz < 55.0;
    if iec { Market::Iec } else { Market::NorthAmerica }
}

/// Abbreviates a colour as written in a description, such as `red-white`; a word that is not known stays as it is.
#[must_use]
pub fn color_code(market: Market, color: &str) -> String {
    let codes: Vec<String> = color.split(['-', '/']).map(|word| one_code(market, word)).collect();
    codes.join(if market == Market::Iec { "" } else { "/" })
}

fn one_code(market: Market, word: &str) -> String {
    match COLORS.iter().find(|(known, ..)| known.eq_ignore_ascii_case(word.trim())) {
        Some((_, american, _, _)) if market == Market::NorthAmerica => (*american).to_owned(),
        Some((_, _, iec, _)) => (*iec).to_owned(),
        None => word.trim().to_owned(),
    }
}

/// Gives what the colours of a lead look like, jacket first; empty if one is not known.
pub(crate) fn looks(color: &str) -> Vec<String> {
    let look = |word: &str| COLORS.iter().find(|(known, ..)| known.eq_ignore_ascii_case(word.trim())).map(|c| c.3);
    let found: Option<Vec<&str>> = color.split(['-', '/']).map(look).collect();
    found.unwrap_or_default().into_iter().map(str::to_owned).collect()
}

/// Lists code and word of every colour among these, once each.
pub(crate) fn key<'a>(market: Market, colors: impl Iterator<Item = &'a str>) -> Vec<(String, String)> {
    let mut key = std::collections::BTreeMap::new();
    for word in colors.flat_map(|color| color.split(['-', '/'])) {
        key.entry(one_code(market, word)).or_insert_with(|| word.trim().to_owned());
    }
    key.into_iter().collect()
}

#[cfg(test)]
mod tests {
    use super::{Market, color_code};

    #[test]
    fn codes_follow_the_market() {
        assert_eq!(color_code(Market::NorthAmerica, "red-white"), "R/W");
        assert_eq!(color_code(Market::Iec, "red-white"), "RDWH");
        assert_eq!(color_code(Market::Iec, "green-yellow"), "GNYE");
        assert_eq!(color_code(Market::NorthAmerica, "blue"), "BU");
        assert_eq!(color_code(Market::NorthAmerica, "mauve"), "mauve");
    }
}
