//! The file that comes out, read by a library of its own (lopdf), and what a template may not do.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test stops where it fails")]

use documents::{Block, Page};
use lopdf::{Document, Object};
use typeset::{Sheet, TEMPLATE, check, pdf};

fn invoice() -> Page {
    let rows = [["finding the fault", "20 %", "USD 95.00"], ["together", "", "USD 95.00"]];
    Page {
        title: "Invoice ab12-7".to_owned(),
        blocks: vec![
            Block::Line("Kettle Lane Repairs".to_owned()),
            Block::Named("For".to_owned(), "Ødegård & Søn, 1 #street *bold* $x$".to_owned()),
            Block::Heading("Lines".to_owned()),
            Block::Table {
                head: ["What", "Tax", "Amount"].map(str::to_owned).to_vec(),
                rows: rows.map(|row| row.map(str::to_owned).to_vec()).to_vec(),
                money: true,
            },
            Block::Warning("the supply is to be mended first".to_owned()),
        ],
    }
}

fn text(bytes: &[u8]) -> String {
    let document = Document::load_mem(bytes).unwrap();
    let pages: Vec<u32> = document.get_pages().keys().copied().collect();
    document.extract_text(&pages).unwrap().split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn everything_on_the_page_is_in_the_file_as_text() {
    let text = text(&pdf(&invoice(), Sheet::A4, TEMPLATE).unwrap());
    for words in ["Invoice ab12-7", "Kettle Lane Repairs", "USD 95.00", "20 %", "WARNING", "together"] {
        assert!(text.contains(words), "`{words}` is not in: {text}");
    }
    // What looks like the template's own language stays a text.
    assert!(text.contains("1 #street *bold* $x$"), "{text}");
    assert!(text.contains("Ødegård & Søn"), "{text}");
}

#[test]
fn one_page_gives_the_same_bytes_each_time() {
    let set = || pdf(&invoice(), Sheet::Letter, TEMPLATE).unwrap();
    assert_eq!(set(), set());
}

/// SOURCE: ISO 216 (A4 is 210 by 297 mm), ASME Y14.1 (letter is 8.5 by 11 in); a PDF's unit is 1/72 in (ISO 32000-1, 8.3.2.3).
#[test]
fn the_paper_has_its_size() {
    for (sheet, wide, high) in [(Sheet::A4, 210.0 / 25.4, 297.0 / 25.4), (Sheet::Letter, 8.5, 11.0)] {
        let document = Document::load_mem(&pdf(&invoice(), sheet, TEMPLATE).unwrap()).unwrap();
        let (_, id) = document.get_pages().into_iter().next().unwrap();
        let page = document.get_dictionary(id).unwrap();
        let size = page.get(b"MediaBox").and_then(Object::as_array).unwrap();
        let inch = |at: usize| size[at].as_float().unwrap() / 72.0;
        assert!((inch(2) - wide).abs() < 0.01 && (inch(3) - high).abs() < 0.01, "{size:?}");
    }
    assert_eq!(
        (Sheet::usual_in("US"), Sheet::usual_in("DE"), Sheet::usual_in("")),
        (Sheet::Letter, Sheet::A4, Sheet::A4)
    );
}

#[test]
fn the_template_that_comes_along_draws_every_kind_of_block() {
    check(TEMPLATE).unwrap();
}

#[test]
fn a_mistake_in_a_template_is_told_with_its_line() {
    let why = check("#let given = json(\"page.json\")\n#given.titel\n").unwrap_err().to_string();
    assert!(why.starts_with("template, line 2, column "), "{why}");
    let why = check("#let given = (").unwrap_err().to_string();
    assert!(why.starts_with("template, line 1, column "), "{why}");
}

#[test]
fn a_template_sees_no_file_no_package_and_no_clock() {
    for template in [
        "#read(\"/etc/hostname\")",
        "#read(\"Cargo.toml\")",
        "#import \"@preview/example:0.1.0\": add",
        "#datetime.today().year()",
    ] {
        assert!(check(template).is_err(), "{template}");
    }
}

#[test]
fn a_shops_own_template_is_followed() {
    let own = "#let given = json(\"page.json\")\nOur own paper: #given.title, #given.blocks.len() blocks";
    let text = text(&pdf(&invoice(), Sheet::A4, own).unwrap());
    assert!(text.contains("Our own paper: Invoice ab12-7, 5 blocks"), "{text}");
}
