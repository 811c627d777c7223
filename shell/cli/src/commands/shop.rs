//! `callwright settings`, `callwright van` and `callwright own`: the fields of the app's own screens, shown and set in a book.

use crate::args::AtCounter;
use crate::commands::call::Keep;
use crate::commands::papers;
use crate::failure::Failure;
use crate::{clock, output};
use book::Loaded;
use screens::screen::{Field, Setting};
use screens::{Counter, Touch};
use std::cell::Cell;
use std::path::Path;
use std::process::ExitCode;

/// Goes to a place of the counter, sets what was asked, and shows the fields. What was set before a mistake stays set.
pub(crate) fn run(place: &Touch, asked: &AtCounter, as_json: bool) -> Result<ExitCode, Failure> {
    let mut keep = Keep::own(asked.book.as_deref())?;
    let loaded = Loaded { events: keep.events().to_vec(), ..Loaded::default() };
    let mut counter = Counter::open(keep.pen(), &loaded, keep.damaged.clone(), keep.held()?);
    let no_randomness = Cell::new(None);
    let mut random = |bytes: &mut [u8]| no_randomness.set(store::fill(bytes).err().or(no_randomness.take()));
    counter.touch(place, &mut random);
    for set in &asked.set {
        let (id, value) = set.split_once('=').ok_or_else(|| {
            Failure::Input(format!(
                "`{set}` sets nothing; write it as `ID=VALUE` with an id that is listed without --set"
            ))
        })?;
        let (id, value) = (id.trim(), read(value)?);
        if *place == Touch::Settings && id == "template" && !value.trim().is_empty() {
            papers::tried(&value)?;
        }
        counter.touch(&Touch::Set { id: id.to_owned(), value }, &mut random);
        if let Some(error) = no_randomness.take() {
            return Err(Failure::SetUp(error.to_string()));
        }
        while let Some(owed) = counter.owes(&clock::now()?).map_err(Failure::Bug)? {
            keep.append(&owed)?;
            counter.kept();
        }
        if let Some(notice) = counter.screen().notice {
            return Err(Failure::Input(format!("{}; {}", notice.say, notice.mend)));
        }
    }
    let screen = counter.screen();
    if let Some(id) = &asked.hand_out {
        let fields = screen.fields.iter().flat_map(|group| &group.fields);
        let mut handed = fields.filter(|field| field.id == *id && matches!(field.set, Setting::Save(_)));
        let field = handed.next().ok_or_else(|| {
            Failure::Input(format!("nothing is handed out under `{id}`; take an id that is listed with a file's name"))
        })?;
        let Some(file) = &asked.pdf else {
            output::raw(&field.value);
            return Ok(ExitCode::SUCCESS);
        };
        let page = counter.page(id);
        let page = page.ok_or_else(|| Failure::Input(format!("`{id}` is no page; hand it out without --pdf")))?;
        let set = counter.settings();
        papers::typeset(&page, &set.letterhead.country, set.template.as_deref(), file)?;
        return Ok(ExitCode::SUCCESS);
    }
    if as_json {
        output::json(&serde_json::json!({ "fields": screen.fields, "curves": screen.curves }));
        return Ok(ExitCode::SUCCESS);
    }
    for group in &screen.fields {
        output::line(&output::bold(&group.title));
        group.note.iter().flat_map(|note| note.lines()).for_each(|note| output::line(&format!("  {note}")));
        group.fields.iter().for_each(|field| output::line(&line(field)));
    }
    for plot in &screen.curves {
        output::line(&output::bold(&plot.title));
        plot.words.iter().for_each(|words| output::line(&format!("  {words}")));
    }
    Ok(ExitCode::SUCCESS)
}

/// `callwright demo-shop`: writes the demo's shop into an empty book.
pub(crate) fn demo(book: &Path, jobs: usize, seed: u64, as_json: bool) -> Result<ExitCode, Failure> {
    let mut keep = Keep::own(Some(book))?;
    if !keep.events().is_empty() {
        return Err(Failure::Input(format!("`{}` is not empty; name another book", book.display())));
    }
    let held = screens::demo_shop(seed, jobs, &mut |_| {}).map_err(Failure::Bug)?;
    keep.take_in(&held)?;
    let (events, customers) = (held.events.len(), held.keys.len());
    if as_json {
        output::json(&serde_json::json!({ "events": events, "customers": customers }));
    } else {
        output::line(&format!("{events} facts of {customers} invented customers are in {}", book.display()));
    }
    Ok(ExitCode::SUCCESS)
}

fn line(field: &Field) -> String {
    let value = match (&field.set, field.value.as_str()) {
        (Setting::Count, "") => "not counted",
        (Setting::Save(file), _) => file,
        (_, value) => value,
    };
    format!("  {:<36} {value:<12} {} ({})", field.id, field.say, field.note)
}

/// A value as typed; after `@` the text of a file.
fn read(value: &str) -> Result<String, Failure> {
    let Some(file) = value.strip_prefix('@') else { return Ok(value.to_owned()) };
    std::fs::read_to_string(file).map_err(|error| Failure::Input(format!("cannot read `{file}`: {error}")))
}
