//! What stands on the pages.

use crate::job::{heading, money, told};
use billing::{bill, total};
use book::{ChargeSort, QuoteGiven};
use documents::{quote_html, quote_text, record_html, record_text};

const PLAIN: &str = "one load in three stays wet";

#[test]
fn the_record_reads_as_it_was_written_down_here() {
    assert_eq!(record_text(&told(PLAIN), &heading(PLAIN)), include_str!("record.txt"));
}

#[test]
fn the_quote_reads_as_it_was_written_down_here() {
    let job = told(PLAIN);
    let (entry, quote) = job.all::<QuoteGiven>().next().unwrap();
    let entry = book::Entry { event: entry.event, call: entry.call, at: entry.at.clone(), fact: quote.clone() };
    assert_eq!(quote_text(&entry, &heading(PLAIN)), include_str!("quote.txt"));
    assert!(quote_html(&entry, &heading(PLAIN)).contains("USD 217.15 to USD 274.15"));
}

/// Tags, attributes, a comment, an entity, a change of direction, a control of terminals, a null.
const HOSTILE: &str = "<script>alert('x')</script><img src=\"x\" onerror=y>`-->&lt; \u{202e}gnp.exe \u{1b}[31mred\u{0}";

#[test]
fn words_of_people_stay_words_on_every_page() {
    let job = told(HOSTILE);
    let html = record_html(&job, &heading(HOSTILE));
    let tags: Vec<&str> = html.split('<').skip(1).map(|rest| rest.split(['>', ' ']).next().unwrap()).collect();
    let known = [
        "!doctype", "html", "head", "meta", "title", "/title", "style", "/style", "/head", "body", "h1", "/h1", "h2",
        "/h2", "p", "/p", "strong", "/strong", "table", "/table", "thead", "/thead", "tbody", "/tbody", "tr", "/tr",
        "th", "/th", "td", "/td", "/body", "/html",
    ];
    for tag in tags {
        assert!(known.contains(&tag), "<{tag}");
    }
    assert!(html.contains("&lt;script&gt;alert(&#39;x&#39;)") && html.contains("&amp;lt;"));
    let text = record_text(&job, &heading(HOSTILE));
    for page in [&html, &text] {
        assert!(!page.contains(['\u{202e}', '\u{1b}', '\u{0}']));
    }
}

#[test]
fn every_total_adds_up_and_declined_work_is_not_charged() {
    let job = told(PLAIN);
    let lines = bill(&job);
    assert_eq!(
        lines.iter().map(|line| line.sort).collect::<Vec<_>>(),
        [ChargeSort::Diagnosis, ChargeSort::Labour, ChargeSort::Part]
    );
    // 95 + 58.10 + 64.05, by hand.
    assert_eq!(total(&lines), [money("217.15")]);
    for (_, quote) in job.all::<QuoteGiven>() {
        assert_eq!(total(&quote.charges).iter().map(|sum| sum.amount).collect::<Vec<_>>(), [quote.low.amount]);
    }
    assert!(record_text(&job, &heading(PLAIN)).contains("USD 217.15"));
}

#[test]
fn a_page_needs_nothing_from_elsewhere() {
    let html = record_html(&told(PLAIN), &heading(PLAIN));
    for fetched in ["http", "src=", "href=", "url(", "@import", "<script", "<link"] {
        assert!(!html.contains(fetched), "{fetched}");
    }
    assert!(html.contains("@media print"));
}
