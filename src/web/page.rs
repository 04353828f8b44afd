//! What all pages share.

use super::assets;
use super::error::WebError;
use crate::store::staff::Staff;
use askama::Template;
use axum::response::Html;

/// The frame of a page: where its files are and who looks at it.
#[derive(Debug, Clone)]
pub struct Page {
    pub assets: &'static str,
    /// The name of the person signed in.
    pub who: Option<String>,
    /// Their staff number, by which a tablet tells whose pages it keeps; 0 for nobody.
    pub number: i32,
}

impl Page {
    /// A page for a member of staff.
    pub fn of(staff: &Staff) -> Self {
        Self { assets: assets::folder(), who: Some(staff.name.clone()), number: staff.number.0 }
    }

    /// A page for nobody in particular.
    pub fn of_nobody() -> Self {
        Self { assets: assets::folder(), who: None, number: 0 }
    }
}

/// A page that says why there is no other.
#[derive(Template)]
#[template(path = "error/show.html")]
pub struct ErrorPage {
    pub page: Page,
    pub heading: &'static str,
    pub says: String,
    pub reference: String,
}

/// Renders a page.
pub fn html(page: &impl Template) -> Result<Html<String>, WebError> {
    Ok(Html(page.render()?))
}
