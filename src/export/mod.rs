//! What leaves the house: rows in, bytes out, and nothing else. [`writer::Writer`] knows every [`format::Format`]; which
//! rows there are, `store::exports` answers, and `exporter` carries them from there to here.

pub mod badge;
pub mod calendar;
pub mod columns;
pub mod csv;
pub mod format;
pub mod json;
pub mod person;
pub mod row;
#[cfg(test)]
mod samples;
pub mod schema;
pub mod spreadsheet;
pub mod status_list;
pub mod text;
pub mod writer;
pub mod xapi;
