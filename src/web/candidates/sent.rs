//! A file of candidates as it travels between the pages of an import.
//!
//! It arrives once as an upload, or as pasted text, and then goes from form to form in a hidden field, byte for byte
//! (base64url): nothing about anybody lies on the service before it is imported, and the encoding can be chosen anew at
//! every step. Limits, before anything is parsed: the body of these routes, one part each for file and text, and
//! [`file::LARGEST`] bytes; rows, columns and cells have theirs in [`mod@file`]. Only a manager who is signed in gets as far as
//! to send anything.

use crate::candidates::file::{self, Column, Columns, Encoding, Separator, Table, cells, rows};
use crate::web::App;
use crate::web::error::WebError;
use crate::web::form::Faults;
use axum::extract::{FromRequest, Multipart, Request};
use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD as BASE64;
use std::collections::BTreeMap;

/// Largest body of an import's requests: the largest file in base64, and the choices beside it.
pub const LARGEST_BODY: usize = file::LARGEST / 3 * 4 + 64 * 1024;

/// What is said of a file that is too large.
const TOO_LARGE: &str = "The file is larger than 2 MB. Please split it.";

/// The bytes of an upload, or of what was pasted.
pub struct Upload {
    pub bytes: Vec<u8>,
    /// What was pasted, to be shown again.
    pub text: String,
}

impl FromRequest<App> for Upload {
    type Rejection = WebError;

    async fn from_request(request: Request, app: &App) -> Result<Self, WebError> {
        let parts = Multipart::from_request(request, app).await;
        let mut parts = parts.map_err(|_| WebError::WrongType("a form with a file"))?;
        let (mut of_file, mut of_text) = (None, None);
        while let Some(part) = parts.next_field().await.map_err(|why| broken(&why))? {
            let place = match part.name() {
                Some("file") => &mut of_file,
                Some("text") => &mut of_text,
                _ => return Err(WebError::Unreadable("The form holds something that is not asked for.".into())),
            };
            if place.is_some() {
                return Err(WebError::Unreadable("The form holds two files.".into()));
            }
            *place = Some(part.bytes().await.map_err(|why| broken(&why))?);
        }
        let text = of_text.unwrap_or_default();
        let bytes = of_file.filter(|file| !file.is_empty()).unwrap_or_else(|| text.clone());
        Ok(Self { bytes: bytes.to_vec(), text: String::from_utf8_lossy(&text).into_owned() })
    }
}

fn broken(why: &axum::extract::multipart::MultipartError) -> WebError {
    if why.status() == axum::http::StatusCode::PAYLOAD_TOO_LARGE {
        return WebError::TooLarge;
    }
    WebError::Unreadable("The upload broke off or is not a form.".into())
}

/// A file with everything that was chosen for it.
pub struct Sent {
    pub bytes: Vec<u8>,
    pub encoding: Encoding,
    pub separator: Separator,
    /// The rows, where the bytes can be read with these choices.
    pub table: Option<Table>,
    pub columns: Columns,
    /// What keeps it from being read.
    pub faults: Faults,
}

impl Sent {
    /// A file of which nothing is chosen yet: everything as it is detected.
    pub fn detected(bytes: Vec<u8>) -> Self {
        let encoding = Encoding::detect(&bytes);
        let separator = encoding.decode(&bytes).map_or(Separator::Comma, |text| Separator::detect(&text));
        Self::read(bytes, encoding, separator, None)
    }

    /// A file as a form of the import carries it.
    pub fn of_form(mut form: BTreeMap<String, String>) -> Result<(Self, Rest), WebError> {
        let unreadable = || WebError::Unreadable("The file was not sent along as it was. Begin with it again.".into());
        let bytes = form.remove("file").and_then(|file| BASE64.decode(file).ok()).ok_or_else(unreadable)?;
        if bytes.len() > file::LARGEST {
            return Err(WebError::TooLarge);
        }
        let mut word = |field: &str| form.remove(field).unwrap_or_default();
        let encoding = Encoding::of_word(&word("encoding")).ok_or_else(unreadable)?;
        let separator = Separator::of_word(&word("separator")).ok_or_else(unreadable)?;
        let rest = Rest { was: word("was"), seen: word("seen"), leave_out: word("leave_out") == "on" };
        let head = word("head") == "on";
        let mut mean = Vec::new();
        while let Some(column) = form.remove(&format!("column_{}", mean.len())) {
            mean.push(Column::of_word(&column).ok_or_else(unreadable)?);
        }
        if let Some(field) = form.keys().next() {
            return Err(WebError::Unreadable(format!("The form holds {field:.40}, which is not asked for.")));
        }
        let chosen = (!mean.is_empty() && mean.len() <= file::MOST_COLUMNS).then_some(Columns { head, mean });
        let sent = Self::read(bytes, encoding, separator, chosen);
        // Cut in another way, the columns are others.
        let sent = if rest.was == sent.was() || rest.was.is_empty() {
            sent
        } else {
            Self::read(sent.bytes, encoding, separator, None)
        };
        Ok((sent, rest))
    }

    fn read(bytes: Vec<u8>, encoding: Encoding, separator: Separator, chosen: Option<Columns>) -> Self {
        let mut faults = Faults::none();
        let table = match (bytes.len() > file::LARGEST, encoding.decode(&bytes)) {
            (true, _) => Err(("file", TOO_LARGE.to_owned())),
            (false, None) => Err(("encoding", "The file is not written in this encoding. Choose another.".to_owned())),
            (false, Some(text)) => cells::read(&text, separator).map_err(|why| ("separator", why.to_string())),
        };
        let table = table.map_err(|(field, says)| faults.add(field, says)).ok();
        let guessed = || table.as_ref().map_or(Columns { head: true, mean: Vec::new() }, rows::guess);
        let columns = chosen.unwrap_or_else(guessed);
        Self { bytes, encoding, separator, table, columns, faults }
    }

    /// The bytes as the next form carries them.
    pub fn carried(&self) -> String {
        BASE64.encode(&self.bytes)
    }

    /// How it was cut, so that the next form can tell whether that was changed.
    pub fn was(&self) -> String {
        format!("{} {}", self.encoding.word(), self.separator.word())
    }

    /// The table, and the columns where nothing is wrong with them; else what is.
    pub fn whole(&self) -> Result<&Table, Faults> {
        let mut faults = self.faults.clone();
        let Some(table) = self.table.as_ref() else { return Err(faults) };
        if let Some(fault) = self.columns.faults().first() {
            faults.add("column_0", fault.to_string());
        }
        if faults.is_empty() { Ok(table) } else { Err(faults) }
    }
}

/// What a form of the import holds beside the file.
pub struct Rest {
    /// How the file was cut on the page that the form stood on.
    was: String,
    /// The digest of the outcome that the person saw.
    pub seen: String,
    /// Whether faulty rows are to be left out.
    pub leave_out: bool,
}
