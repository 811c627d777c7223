//! The guide as one page that needs nothing from elsewhere, for the app: the chapters of `docs/guide` in the order of their
//! summary, with their pictures beside it.

use pulldown_cmark::{Event, Options, Parser, Tag, html};
use std::fs;
use std::io;
use std::path::Path;

/// Where the chapters lie.
const SOURCE: &str = "docs/guide/src";
/// The page that is made.
pub const PAGE: &str = "guide.html";

/// A chapter: its file without its ending, and its title.
#[derive(Debug, PartialEq, Eq)]
pub struct Chapter {
    /// Name of the file without its ending.
    pub name: String,
    /// As the summary has it.
    pub title: String,
}

/// Reads the chapters out of the summary.
#[must_use]
pub fn chapters(summary: &str) -> Vec<Chapter> {
    let row = |line: &str| {
        let (title, rest) = line.trim().strip_prefix("- [")?.split_once("](")?;
        let name = rest.strip_suffix(".md)")?;
        Some(Chapter { name: name.to_owned(), title: title.to_owned() })
    };
    summary.lines().filter_map(row).collect()
}

/// Makes the page and copies its pictures into `out`.
///
/// # Errors
/// A chapter or a picture that the guide names is not there.
pub fn make(root: &Path, out: &Path) -> io::Result<()> {
    let source = root.join(SOURCE);
    let chapters = chapters(&fs::read_to_string(source.join("SUMMARY.md"))?);
    let mut body = String::from("<nav><ul>\n");
    for chapter in &chapters {
        body.push_str(&format!("<li><a href=\"#{}\">{}</a></li>\n", chapter.name, chapter.title));
    }
    body.push_str("</ul></nav>\n");
    for chapter in &chapters {
        let text = fs::read_to_string(source.join(format!("{}.md", chapter.name)))?;
        for picture in pictures(&text) {
            let to = out.join(&picture);
            fs::create_dir_all(to.parent().unwrap_or(out))?;
            fs::copy(source.join(&picture), to)?;
        }
        body.push_str(&format!("<section id=\"{}\">\n{}</section>\n", chapter.name, markup(&text)));
    }
    let page = format!(
        "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n<title>A guide for the technician</title>\n\
         <link rel=\"stylesheet\" href=\"style.css\">\n</head>\n<body>\n<main class=\"guide\">\n\
         <p><a class=\"choice\" href=\"./\">back to the app</a></p>\n{body}</main>\n</body>\n</html>\n"
    );
    fs::write(out.join(PAGE), page)
}

/// Lists the pictures that a chapter shows.
#[must_use]
pub fn pictures(text: &str) -> Vec<String> {
    let shown = |event| match event {
        Event::Start(Tag::Image { dest_url, .. }) => Some(dest_url.to_string()),
        _ => None,
    };
    Parser::new(text).filter_map(shown).collect()
}

fn markup(text: &str) -> String {
    let mut out = String::new();
    html::push_html(&mut out, Parser::new_ext(text, Options::ENABLE_TABLES));
    out
}

#[cfg(test)]
mod tests {
    use super::{PAGE, chapters, make};
    use std::path::Path;

    #[test]
    fn the_guide_is_one_page_with_all_its_chapters_and_pictures() {
        let root = Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap();
        let out = tempfile::tempdir().unwrap();
        make(root, out.path()).unwrap();
        let page = std::fs::read_to_string(out.path().join(PAGE)).unwrap();
        let all = chapters(&std::fs::read_to_string(root.join("docs/guide/src/SUMMARY.md")).unwrap());
        assert!(all.len() > 4);
        for chapter in &all {
            assert!(page.contains(&format!("<section id=\"{}\">\n<h1>", chapter.name)), "{}", chapter.name);
        }
        for shown in page.split("src=\"").skip(1) {
            let picture = shown.split('"').next().unwrap();
            assert!(out.path().join(picture).is_file(), "{picture}");
        }
        assert!(page.matches("<img").count() >= 3 && !page.contains("http"));
    }
}
