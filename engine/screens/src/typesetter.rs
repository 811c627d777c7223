//! Pages on their way to the shop's server, which sets them as PDF by the shop's own template. Refuses to know the way there.

use book::SettingsSet;
use documents::{Page, to_data};
use sync::{Question, ToTypeset};

/// How the shop has its pages set.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Typesetter {
    country: String,
    template: Option<String>,
}

impl Typesetter {
    /// Takes what the settings say of paper.
    #[must_use]
    pub fn of(set: &SettingsSet) -> Self {
        Self { country: set.letterhead.country.clone(), template: set.template.clone() }
    }

    /// Asks the server for a page.
    #[must_use]
    pub fn ask(&self, page: &Page) -> Question {
        let (country, template) = (self.country.clone(), self.template.clone());
        ToTypeset { page: to_data(page), country, template }.question()
    }
}

/// Names the file of a page, with this ending: `invoice-4-k7.pdf`.
#[must_use]
pub fn file_of(page: &Page, ending: &str) -> String {
    let word = |letter: char| if letter.is_alphanumeric() || letter == '.' { letter } else { '-' };
    let name: String = page.title.to_lowercase().chars().map(word).collect();
    let words: Vec<&str> = name.split('-').filter(|word| !word.is_empty()).collect();
    format!("{}.{ending}", words.join("-"))
}
