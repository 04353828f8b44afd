//! What handlers take as arguments. Each refusal is in our own words.

use super::App;
use super::cookies::{self, Purpose};
use super::error::WebError;
use super::origin::Origin;
use super::tokens::Token;
use crate::store::staff::{Role, Staff};
use crate::store::{CentreId, sign_ins};
use axum::extract::{FromRequest, FromRequestParts, Request, rejection};
use axum::http::request::Parts;
use axum_extra::extract::CookieJar;
use serde::de::DeserializeOwned;
use time::OffsetDateTime;

/// Parts of the address. One that cannot be read leads nowhere.
pub struct Path<T>(pub T);

impl<S: Send + Sync, T: DeserializeOwned + Send> FromRequestParts<S> for Path<T> {
    type Rejection = WebError;

    async fn from_request_parts(parts: &mut Parts, state: &S) -> Result<Self, WebError> {
        let path = axum::extract::Path::from_request_parts(parts, state).await;
        path.map(|axum::extract::Path(value)| Self(value)).map_err(|_| WebError::Missing("page"))
    }
}

/// What stands after the question mark.
pub struct Query<T>(pub T);

impl<S: Send + Sync, T: DeserializeOwned + Send> FromRequestParts<S> for Query<T> {
    type Rejection = WebError;

    async fn from_request_parts(parts: &mut Parts, state: &S) -> Result<Self, WebError> {
        let query = axum::extract::Query::from_request_parts(parts, state).await;
        query.map(|axum::extract::Query(value)| Self(value)).map_err(|_| WebError::Missing("page"))
    }
}

/// A form that was sent.
pub struct Form<T>(pub T);

impl<S: Send + Sync, T: DeserializeOwned> FromRequest<S> for Form<T> {
    type Rejection = WebError;

    async fn from_request(request: Request, state: &S) -> Result<Self, WebError> {
        use rejection::FormRejection::{BytesRejection, InvalidFormContentType};
        match axum::extract::Form::from_request(request, state).await {
            Ok(axum::extract::Form(value)) => Ok(Self(value)),
            Err(InvalidFormContentType(_)) => Err(WebError::WrongType("a form")),
            Err(BytesRejection(why)) => Err(body_refused(why.status())),
            Err(why) => Err(WebError::Unreadable(format!("The form cannot be read: {}.", why.body_text()))),
        }
    }
}

/// A file that a form sent in its field `file`: one, as text.
pub struct Upload {
    /// What the browser calls it.
    pub name: String,
    /// Its text; where it is not UTF-8, what can be read of it.
    pub text: String,
    /// Whether it is UTF-8 throughout.
    pub is_utf8: bool,
}

/// A form with fields of text and a file in its field `file`.
pub struct Sent {
    fields: Vec<(String, String)>,
    /// The file, where the form has one; a browser sends an empty one where none was chosen.
    pub file: Option<Upload>,
}

impl Sent {
    /// What was typed into a field.
    pub fn field(&self, name: &str) -> Option<&str> {
        self.fields.iter().find(|(there, _)| there == name).map(|(_, typed)| typed.as_str())
    }
}

impl<S: Send + Sync> FromRequest<S> for Upload {
    type Rejection = WebError;

    async fn from_request(request: Request, state: &S) -> Result<Self, WebError> {
        let sent = Sent::from_request(request, state).await?;
        Ok(sent.file.unwrap_or(Self { name: String::new(), text: String::new(), is_utf8: true }))
    }
}

impl<S: Send + Sync> FromRequest<S> for Sent {
    type Rejection = WebError;

    async fn from_request(request: Request, state: &S) -> Result<Self, WebError> {
        let refused = |_| WebError::WrongType("a form with a file");
        let mut parts = axum::extract::Multipart::from_request(request, state).await.map_err(refused)?;
        let broken = |why: axum::extract::multipart::MultipartError| body_refused(why.status());
        let (mut fields, mut file) = (Vec::new(), None);
        while let Some(part) = parts.next_field().await.map_err(broken)? {
            let field = part.name().unwrap_or_default().to_owned();
            let name = part.file_name().unwrap_or_default().to_owned();
            let bytes = part.bytes().await.map_err(broken)?;
            let (text, is_utf8) = match std::str::from_utf8(&bytes) {
                Ok(text) => (text.to_owned(), true),
                Err(_) => (String::from_utf8_lossy(&bytes).into_owned(), false),
            };
            if field == "file" {
                file.get_or_insert(Upload { name, text, is_utf8 });
            } else {
                fields.push((field, text));
            }
        }
        Ok(Self { fields, file })
    }
}

/// A JSON body that was sent.
pub struct Json<T>(pub T);

impl<S: Send + Sync, T: DeserializeOwned> FromRequest<S> for Json<T> {
    type Rejection = WebError;

    async fn from_request(request: Request, state: &S) -> Result<Self, WebError> {
        use rejection::JsonRejection::{BytesRejection, MissingJsonContentType};
        match axum::extract::Json::from_request(request, state).await {
            Ok(axum::extract::Json(value)) => Ok(Self(value)),
            Err(MissingJsonContentType(_)) => Err(WebError::WrongType("application/json")),
            Err(BytesRejection(why)) => Err(body_refused(why.status())),
            Err(why) => Err(WebError::Unreadable(why.body_text())),
        }
    }
}

fn body_refused(status: axum::http::StatusCode) -> WebError {
    if status == axum::http::StatusCode::PAYLOAD_TOO_LARGE {
        WebError::TooLarge
    } else {
        WebError::Unreadable("The request broke off.".into())
    }
}

/// The origin that the request was made to.
pub struct Here(pub Origin);

impl FromRequestParts<App> for Here {
    type Rejection = WebError;

    async fn from_request_parts(parts: &mut Parts, app: &App) -> Result<Self, WebError> {
        let here = Origin::of_request(app.settings.origin.as_ref(), &parts.headers);
        here.map(Self).ok_or_else(|| WebError::Unreadable("The request names no host.".into()))
    }
}

/// The header in which a tablet says whose observations it sends: a staff number.
const MADE_BY: &str = "made-by";

/// The member of staff who is signed in on this browser, with the roles they hold now.
pub struct SignedIn {
    pub staff: Staff,
    /// When they last gave their password.
    pub password_at: OffsetDateTime,
    /// What is stored of the token in the cookie.
    pub token_hash: [u8; 32],
}

impl SignedIn {
    /// Their centre; the only place that a request's centre comes from.
    pub fn centre(&self) -> &CentreId {
        &self.staff.centre
    }

    /// Whether they may read every session of the centre.
    pub fn reads_all(&self) -> bool {
        self.staff.is(Role::Verifier) || self.staff.is(Role::Manager)
    }
}

impl FromRequestParts<App> for SignedIn {
    type Rejection = WebError;

    async fn from_request_parts(parts: &mut Parts, app: &App) -> Result<Self, WebError> {
        let (centre, token) = token(parts, app, Purpose::SignIn).ok_or(WebError::SignIn)?;
        let mut tx = app.store.begin(&centre).await?;
        let known = sign_ins::resume(&mut tx, &centre, &token.hash(), app.clock.now()).await?;
        tx.commit().await?;
        let (staff, password_at) = known.ok_or(WebError::SignIn)?;
        // A tablet says whose observations it sends: another person's sign-in must not carry them.
        if parts.headers.get(MADE_BY).is_some_and(|by| by.as_bytes() != staff.number.0.to_string().as_bytes()) {
            return Err(WebError::SignIn);
        }
        Ok(Self { staff, password_at, token_hash: token.hash() })
    }
}

/// A manager of the centre, signed in.
pub struct Manager(pub SignedIn);

impl FromRequestParts<App> for Manager {
    type Rejection = WebError;

    async fn from_request_parts(parts: &mut Parts, app: &App) -> Result<Self, WebError> {
        let who = SignedIn::from_request_parts(parts, app).await?;
        if who.staff.is(Role::Manager) {
            return Ok(Self(who));
        }
        Err(WebError::Forbidden("Only a manager of the centre can do this."))
    }
}

/// An assessor or a manager, signed in: those who write checklists, bays and tasks.
pub struct Author(pub SignedIn);

impl FromRequestParts<App> for Author {
    type Rejection = WebError;

    async fn from_request_parts(parts: &mut Parts, app: &App) -> Result<Self, WebError> {
        let who = SignedIn::from_request_parts(parts, app).await?;
        if who.staff.is(Role::Manager) || who.staff.is(Role::Assessor) {
            return Ok(Self(who));
        }
        Err(WebError::Forbidden("Only an assessor or a manager of the centre can do this."))
    }
}

/// A verifier or a manager, signed in: those who may read everything of the centre.
pub struct Reader(pub SignedIn);

impl FromRequestParts<App> for Reader {
    type Rejection = WebError;

    async fn from_request_parts(parts: &mut Parts, app: &App) -> Result<Self, WebError> {
        let who = SignedIn::from_request_parts(parts, app).await?;
        if who.reads_all() {
            return Ok(Self(who));
        }
        Err(WebError::Forbidden("Only a verifier or a manager of the centre can do this."))
    }
}

/// The sign-in that the browser's cookie names, whether or not it still holds.
pub struct SignInToken(pub Option<(CentreId, Token)>);

impl FromRequestParts<App> for SignInToken {
    type Rejection = WebError;

    async fn from_request_parts(parts: &mut Parts, app: &App) -> Result<Self, WebError> {
        Ok(Self(token(parts, app, Purpose::SignIn)))
    }
}

/// The enrolled tablet that the browser's cookie says it is.
pub struct TabletToken(pub Option<(CentreId, Token)>);

impl FromRequestParts<App> for TabletToken {
    type Rejection = WebError;

    async fn from_request_parts(parts: &mut Parts, app: &App) -> Result<Self, WebError> {
        Ok(Self(token(parts, app, Purpose::Tablet)))
    }
}

/// The visit that a candidate's cookie names.
pub struct Visit(pub Option<(CentreId, Token)>);

impl FromRequestParts<App> for Visit {
    type Rejection = WebError;

    async fn from_request_parts(parts: &mut Parts, app: &App) -> Result<Self, WebError> {
        Ok(Self(token(parts, app, Purpose::Feedback)))
    }
}

fn token(parts: &Parts, app: &App, purpose: Purpose) -> Option<(CentreId, Token)> {
    let here = Origin::of_request(app.settings.origin.as_ref(), &parts.headers)?;
    cookies::read(&CookieJar::from_headers(&parts.headers), purpose, &here)
}
