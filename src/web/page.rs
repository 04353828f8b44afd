//! What all pages share.

use super::assets;
use super::error::WebError;
use crate::store::staff::{Role, Staff};
use askama::Template;
use axum::response::Html;

/// A part of the service that the head of each page leads to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Place {
    Sessions,
    Plan,
    Candidates,
    Tasks,
    Checklists,
    Exports,
    Centre,
    /// What belongs to the person signed in; their name leads there.
    Account,
}

impl Place {
    /// What the head of a page shows, in this order.
    const SHOWN: [Self; 7] =
        [Self::Sessions, Self::Plan, Self::Candidates, Self::Tasks, Self::Checklists, Self::Exports, Self::Centre];

    fn label(self) -> &'static str {
        match self {
            Self::Sessions => "Sessions",
            Self::Plan => "Plan",
            Self::Candidates => "Candidates",
            Self::Tasks => "Tasks",
            Self::Checklists => "Checklists",
            Self::Exports => "Exports",
            Self::Centre => "Centre",
            Self::Account => "Account",
        }
    }

    fn href(self) -> &'static str {
        match self {
            Self::Sessions => "/",
            Self::Plan => "/plan",
            Self::Candidates => "/candidates",
            Self::Tasks => "/tasks",
            Self::Checklists => "/checklists",
            Self::Exports => "/exports",
            Self::Centre => "/centre",
            Self::Account => "/account",
        }
    }

    /// Whether somebody with these roles has anything to do there.
    fn is_for(self, staff: &Staff) -> bool {
        let reads_all = staff.is(Role::Verifier) || staff.is(Role::Manager);
        match self {
            Self::Sessions | Self::Tasks | Self::Checklists | Self::Account => true,
            Self::Plan | Self::Candidates | Self::Exports => reads_all,
            Self::Centre => staff.is(Role::Manager),
        }
    }
}

/// A link in the head of a page.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Link {
    pub label: &'static str,
    pub href: &'static str,
    /// Whether the page shown belongs there.
    pub current: bool,
}

/// The frame of a page: where its files are and who looks at it.
#[derive(Debug, Clone)]
pub struct Page {
    pub assets: &'static str,
    /// The name of the person signed in.
    pub who: Option<String>,
    /// Their staff number, by which a tablet tells whose pages it keeps; 0 for nobody.
    pub number: i32,
    links: Vec<Link>,
    account: bool,
}

impl Page {
    /// A page for a member of staff.
    pub fn of(staff: &Staff) -> Self {
        Self::framed(staff, None)
    }

    /// A page for a member of staff, in this part of the service.
    pub fn at(staff: &Staff, here: Place) -> Self {
        Self::framed(staff, Some(here))
    }

    fn framed(staff: &Staff, here: Option<Place>) -> Self {
        let link = |place: Place| Link { label: place.label(), href: place.href(), current: here == Some(place) };
        let links = Place::SHOWN.iter().copied().filter(|place| place.is_for(staff)).map(link).collect();
        Self {
            assets: assets::folder(),
            who: Some(staff.name.clone()),
            number: staff.number.0,
            links,
            account: here == Some(Place::Account),
        }
    }

    /// A page for nobody in particular.
    pub fn of_nobody() -> Self {
        Self { assets: assets::folder(), who: None, number: 0, links: Vec::new(), account: false }
    }

    /// Where the head of the page leads.
    pub fn links(&self) -> &[Link] {
        &self.links
    }

    /// The link behind the person's own name.
    pub fn account(&self) -> Link {
        Link { label: Place::Account.label(), href: Place::Account.href(), current: self.account }
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
