//! What a template may see: itself, the page's data, the fonts that come with the program.

use std::sync::LazyLock;
use typst::diag::{FileError, FileResult, SourceDiagnostic};
use typst::foundations::{Bytes, Datetime, Duration};
use typst::syntax::{FileId, RootedPath, Source, VirtualPath, VirtualRoot};
use typst::text::{Font, FontBook};
use typst::utils::LazyHash;
use typst::{Library, LibraryExt, World, WorldExt};

/// The library and the fonts, made once.
struct Shelf {
    standard: LazyHash<Library>,
    book: LazyHash<FontBook>,
    fonts: Vec<Font>,
}

static SHELF: LazyLock<Shelf> = LazyLock::new(|| {
    let fonts: Vec<Font> = typst_assets::fonts().flat_map(|font| Font::iter(Bytes::new(font))).collect();
    Shelf { standard: LazyHash::new(Library::default()), book: LazyHash::new(FontBook::from_fonts(&fonts)), fonts }
});

/// Names of the two files there are. Made once: a name is kept by the library for ever.
static NAMES: LazyLock<(FileId, FileId)> = LazyLock::new(|| (name("template.typ"), name("page.json")));

fn name(of: &str) -> FileId {
    // INVARIANT: both names are plain file names, which no path refuses.
    let path = VirtualPath::new(of).unwrap_or_else(|_| unreachable!("`{of}` is a plain name"));
    RootedPath::new(VirtualRoot::Project, path).intern()
}

/// A template and a page.
pub(crate) struct Papers {
    template: Source,
    data: Bytes,
}

impl Papers {
    pub(crate) fn new(template: &str, data: String) -> Self {
        Self { template: Source::new(NAMES.0, template.to_owned()), data: Bytes::from_string(data) }
    }

    /// A mistake with its line and column in the template.
    pub(crate) fn in_words(&self, mistake: &SourceDiagnostic) -> String {
        let at = self.range(mistake.span).filter(|_| mistake.span.id() == Some(NAMES.0));
        let place = at.and_then(|at| self.template.lines().byte_to_line_column(at.start));
        let hints: String = mistake.hints.iter().map(|hint| format!("; {}", hint.v)).collect();
        match place {
            Some((line, column)) => {
                format!("template, line {}, column {}: {}{hints}", line + 1, column + 1, mistake.message)
            }
            None => format!("template: {}{hints}", mistake.message),
        }
    }
}

impl World for Papers {
    fn library(&self) -> &LazyHash<Library> {
        &SHELF.standard
    }

    fn book(&self) -> &LazyHash<FontBook> {
        &SHELF.book
    }

    fn main(&self) -> FileId {
        NAMES.0
    }

    fn source(&self, id: FileId) -> FileResult<Source> {
        if id == NAMES.0 { Ok(self.template.clone()) } else { Err(not_here(id)) }
    }

    fn file(&self, id: FileId) -> FileResult<Bytes> {
        if id == NAMES.1 { Ok(self.data.clone()) } else { Err(not_here(id)) }
    }

    fn font(&self, index: usize) -> Option<Font> {
        SHELF.fonts.get(index).cloned()
    }

    /// No clock: what a page says of time is in its data.
    fn today(&self, _: Option<Duration>) -> Option<Datetime> {
        None
    }
}

fn not_here(id: FileId) -> FileError {
    FileError::NotFound(id.get().vpath().get_without_slash().into())
}
