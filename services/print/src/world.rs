//! What the typesetter can reach: one template, the data of one document, and the fonts that are built in. No file, no
//! network, no clock.

use std::sync::LazyLock;

use typst::diag::{FileError, FileResult};
use typst::foundations::{Bytes, Datetime, Duration};
use typst::syntax::{FileId, RootedPath, Source, VirtualPath, VirtualRoot};
use typst::text::{Font, FontBook};
use typst::utils::LazyHash;
use typst::{Library, LibraryExt, World};

use crate::unprintable::Unprintable;

/// The letters of the pages, and a face with Greek and Cyrillic for names that those letters do not have.
static FONTS: LazyLock<Vec<Font>> = LazyLock::new(|| {
    let own: &'static [u8] = include_bytes!("../fonts/hyperlegible.ttf");
    let further = typst_assets::fonts().filter(|bytes| {
        let first = Font::new(Bytes::new(*bytes), 0);
        first.is_some_and(|font| font.info().family == "Libertinus Serif")
    });
    std::iter::once(own).chain(further).flat_map(|bytes| Font::iter(Bytes::new(bytes))).collect()
});
static BOOK: LazyLock<LazyHash<FontBook>> = LazyLock::new(|| LazyHash::new(FontBook::from_fonts(&*FONTS)));
static LIBRARY: LazyLock<LazyHash<Library>> = LazyLock::new(|| LazyHash::new(Library::default()));

/// One document to be set: a template with its data.
pub(crate) struct Paper {
    main: Source,
    data: FileId,
    bytes: Bytes,
}

impl Paper {
    /// # Errors
    /// Returns [`Unprintable::Fault`] if the data cannot be written as JSON.
    pub(crate) fn new(template: &str, data: &serde_json::Value) -> Result<Self, Unprintable> {
        let bytes = serde_json::to_vec(data).map_err(|error| Unprintable::Fault(error.to_string()))?;
        let main = Source::new(file("/main.typ")?, template.to_owned());
        Ok(Self { main, data: file("/data.json")?, bytes: Bytes::new(bytes) })
    }
}

fn file(path: &str) -> Result<FileId, Unprintable> {
    let path = VirtualPath::new(path).map_err(|error| Unprintable::Fault(format!("{error:?}")))?;
    Ok(RootedPath::new(VirtualRoot::Project, path).intern())
}

impl World for Paper {
    fn library(&self) -> &LazyHash<Library> {
        &LIBRARY
    }

    fn book(&self) -> &LazyHash<FontBook> {
        &BOOK
    }

    fn main(&self) -> FileId {
        self.main.id()
    }

    fn source(&self, id: FileId) -> FileResult<Source> {
        if id == self.main.id() { Ok(self.main.clone()) } else { Err(FileError::AccessDenied) }
    }

    fn file(&self, id: FileId) -> FileResult<Bytes> {
        if id == self.data { Ok(self.bytes.clone()) } else { Err(FileError::AccessDenied) }
    }

    fn font(&self, index: usize) -> Option<Font> {
        FONTS.get(index).cloned()
    }

    fn today(&self, _: Option<Duration>) -> Option<Datetime> {
        None
    }
}
