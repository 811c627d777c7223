//! From a folded call to pages: record and quote, as text and HTML.
