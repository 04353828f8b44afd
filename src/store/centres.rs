//! Training centres and what they decide for themselves.

use super::{CentreId, StoreError};
use sqlx::PgConnection;
use time::Time;

/// A training centre.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Centre {
    pub id: CentreId,
    pub name: String,
    /// A name of the tz database, such as `Europe/London`.
    pub time_zone: String,
}

/// Declares words that stand in a column: the type, its words in the database, its labels on pages.
macro_rules! words {
    ($(#[$about:meta])* $name:ident { $($(#[$of:meta])* $variant:ident = $word:literal, $label:literal;)* }) => {
        $(#[$about])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
        pub enum $name { $($(#[$of])* $variant,)* }

        impl $name {
            /// Every one, in the order in which pages offer them.
            pub const ALL: &'static [Self] = &[$(Self::$variant,)*];

            /// The spelling in the database and in forms.
            pub fn word(self) -> &'static str {
                match self { $(Self::$variant => $word,)* }
            }

            /// What a person reads.
            pub fn label(self) -> &'static str {
                match self { $(Self::$variant => $label,)* }
            }

            /// The one with this spelling.
            pub fn of_word(word: &str) -> Option<Self> {
                Self::ALL.iter().copied().find(|one| one.word() == word)
            }
        }
    };
}

words! {
    /// Whose rules a centre trains for. It chooses the starter criteria and the words for locks and notices.
    Scheme {
        Gb = "gb", "Great Britain and Northern Ireland";
        Ie = "ie", "Ireland";
        Eu = "eu", "European Union, EN 50110-1";
        Us = "us", "United States";
        Au = "au", "Australia and New Zealand";
    }
}

words! {
    /// The language of the pages that candidates read, unless they choose another.
    Language {
        English = "en", "English";
        Welsh = "cy", "Cymraeg (Welsh)";
        Polish = "pl", "Polski (Polish)";
        Spanish = "es", "Español (Spanish)";
    }
}

words! {
    /// How a candidate comes to read a signed result.
    ReleasedHow {
        AtOnce = "at_once", "At once, when the assessor has signed";
        AtTime = "at_time", "At a set time, some days after the signature";
        Told = "told", "After the assessor has told the candidate in person";
    }
}

/// When a candidate may read a signed result.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Release {
    pub how: ReleasedHow,
    /// For [`ReleasedHow::AtTime`]: days after the day of the signature, by the centre's own calendar; 0 to 60.
    pub days: i16,
    /// For [`ReleasedHow::AtTime`]: the local time of day. Where that moment is before the signature, the result is
    /// released at once.
    pub at: Time,
}

/// What a centre decides for itself.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Settings {
    /// The centre's name, 1 to 200 characters.
    pub name: String,
    /// The name on the result sheet, where it is another than the centre's.
    pub sheet_name: Option<String>,
    /// A name of the tz database, such as `Europe/London`.
    pub time_zone: String,
    pub scheme: Scheme,
    /// The language of the pages that candidates read.
    pub language: Language,
    pub release: Release,
    /// Days in which a candidate may ask for a review, counted from the release; 1 to 365.
    pub review_days: i16,
    /// Whether staff need a one-time code or an enrolled tablet beside their password.
    pub second_factor_asked: bool,
}

impl Settings {
    /// The name that stands on the result sheet.
    pub fn on_sheet(&self) -> &str {
        self.sheet_name.as_deref().unwrap_or(&self.name)
    }
}

/// Adds a centre with the usual settings. Answers `false`, and changes nothing, where the code is taken.
pub async fn add(tx: &mut PgConnection, centre: &Centre) -> Result<bool, StoreError> {
    let done = sqlx::query!(
        "INSERT INTO centres (centre_id, name, time_zone) VALUES ($1, $2, $3) ON CONFLICT DO NOTHING",
        centre.id.as_str(),
        centre.name,
        centre.time_zone,
    )
    .execute(tx)
    .await?;
    Ok(done.rows_affected() == 1)
}

/// The centre of this transaction.
pub async fn find(tx: &mut PgConnection, id: &CentreId) -> Result<Option<Centre>, StoreError> {
    let row = sqlx::query!("SELECT name, time_zone FROM centres WHERE centre_id = $1", id.as_str());
    let row = row.fetch_optional(tx).await?;
    Ok(row.map(|row| Centre { id: id.clone(), name: row.name, time_zone: row.time_zone }))
}

/// What the centre of this transaction has decided; `None` where there is no such centre.
pub async fn settings(tx: &mut PgConnection, id: &CentreId) -> Result<Option<Settings>, StoreError> {
    let row = sqlx::query!(
        "SELECT name, sheet_name, time_zone, scheme, candidate_language, release, release_days, release_time,
                review_days, second_factor_asked
         FROM centres WHERE centre_id = $1",
        id.as_str(),
    )
    .fetch_optional(tx)
    .await?;
    let Some(row) = row else { return Ok(None) };
    let unknown = |word: &str| StoreError::unreadable("centres", id.as_str(), format!("nothing is called {word}"));
    Ok(Some(Settings {
        name: row.name,
        sheet_name: row.sheet_name,
        time_zone: row.time_zone,
        scheme: Scheme::of_word(&row.scheme).ok_or_else(|| unknown(&row.scheme))?,
        language: Language::of_word(&row.candidate_language).ok_or_else(|| unknown(&row.candidate_language))?,
        release: Release {
            how: ReleasedHow::of_word(&row.release).ok_or_else(|| unknown(&row.release))?,
            days: row.release_days,
            at: row.release_time,
        },
        review_days: row.review_days,
        second_factor_asked: row.second_factor_asked,
    }))
}

/// Changes what the centre has decided. The caller has checked the values; what the table does not allow is an error.
/// Answers `false` where there is no such centre.
pub async fn change(tx: &mut PgConnection, id: &CentreId, to: &Settings) -> Result<bool, StoreError> {
    let done = sqlx::query!(
        "UPDATE centres SET name = $2, sheet_name = $3, time_zone = $4, scheme = $5, candidate_language = $6,
                release = $7, release_days = $8, release_time = $9, review_days = $10, second_factor_asked = $11
         WHERE centre_id = $1",
        id.as_str(),
        to.name,
        to.sheet_name,
        to.time_zone,
        to.scheme.word(),
        to.language.word(),
        to.release.how.word(),
        to.release.days,
        to.release.at,
        to.review_days,
        to.second_factor_asked,
    )
    .execute(tx)
    .await?;
    Ok(done.rows_affected() == 1)
}

/// Whether the installation has any centre at all; nothing else is told across centres.
pub async fn any(tx: &mut PgConnection) -> Result<bool, StoreError> {
    Ok(sqlx::query_scalar!(r#"SELECT any_centre() AS "any!""#).fetch_one(tx).await?)
}

/// The names of the tz database that this database knows, places only, in alphabetical order.
pub async fn time_zones(tx: &mut PgConnection) -> Result<Vec<String>, StoreError> {
    // Names without a place (EST5EDT, Etc/…, posix/…) are there for old programs.
    let names = sqlx::query_scalar!(
        r#"SELECT name AS "name!" FROM pg_timezone_names
           WHERE name = 'UTC' OR name ~ '^(Africa|America|Antarctica|Arctic|Asia|Atlantic|Australia|Europe|Indian|Pacific)/'
           ORDER BY name"#
    );
    Ok(names.fetch_all(tx).await?)
}
