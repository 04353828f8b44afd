//! The kinds of record that are kept for a time, and for how many months each centre keeps them.

use super::super::{CentreId, StaffNo, StoreError};
use sqlx::PgConnection;
use time::OffsetDateTime;

/// A kind of record.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Kind {
    /// Evidence and result of sessions that were passed, counted from the last signature.
    Passes,
    /// The same of every other outcome.
    Fails,
    /// Remarks, reasons of decisions and of plans that were given up.
    Words,
    /// What is known of a candidate, counted from their last session.
    Candidates,
    /// Links to feedback, counted from when they were made.
    Links,
    /// Invitations, links to a new password and calendar addresses, counted from when they ended.
    Invitations,
    /// Sign-ins that ended, and counts of tries.
    SignIns,
    /// The record of who exported what.
    Exports,
    /// The record of who did what.
    Deeds,
}

impl Kind {
    /// Every kind, in the order in which pages show them.
    pub const ALL: [Self; 9] = [
        Self::Passes,
        Self::Fails,
        Self::Words,
        Self::Candidates,
        Self::Links,
        Self::Invitations,
        Self::SignIns,
        Self::Exports,
        Self::Deeds,
    ];

    /// Every kind, in the order in which a run goes through them: what goes with a session as well is counted as what it
    /// is; and sessions before the candidates whose they were, so that those of one person do not stay beside each other.
    pub const IN_TURN: [Self; 9] = [
        Self::Words,
        Self::Links,
        Self::Passes,
        Self::Fails,
        Self::Candidates,
        Self::Invitations,
        Self::SignIns,
        Self::Exports,
        Self::Deeds,
    ];

    /// The spelling in the database, in addresses and in forms.
    pub fn word(self) -> &'static str {
        match self {
            Self::Passes => "passes",
            Self::Fails => "fails",
            Self::Words => "words",
            Self::Candidates => "candidates",
            Self::Links => "links",
            Self::Invitations => "invitations",
            Self::SignIns => "sign_ins",
            Self::Exports => "exports",
            Self::Deeds => "deeds",
        }
    }

    /// The kind that is spelled so.
    pub fn of_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| kind.word() == word)
    }

    /// The shortest and the longest period that can be set, in months. Common practice, no source; the shortest of the
    /// record of deeds leaves a year in which a misuse can come to light.
    pub fn bounds(self) -> (i16, i16) {
        match self {
            Self::Passes | Self::Fails | Self::Candidates => (3, 240),
            Self::Words => (1, 240),
            Self::Links | Self::Invitations => (1, 60),
            Self::SignIns => (1, 24),
            Self::Exports => (6, 240),
            Self::Deeds => (12, 240),
        }
    }

    fn at(self) -> usize {
        Self::ALL.iter().position(|kind| *kind == self).unwrap_or(0)
    }
}

/// Months for which a centre keeps each kind of record.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Periods([i16; Kind::ALL.len()]);

impl Periods {
    /// Periods as `months` tells for each kind; `None` where it does not tell one.
    pub fn told(mut months: impl FnMut(Kind) -> Option<i16>) -> Option<Self> {
        let mut all = [0; Kind::ALL.len()];
        for kind in Kind::ALL {
            all[kind.at()] = months(kind)?;
        }
        Some(Self(all))
    }

    /// Months for which this kind is kept.
    pub fn of(&self, kind: Kind) -> i16 {
        self.0[kind.at()]
    }
}

/// Who confirmed the periods last, and when.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Confirmed {
    pub by: StaffNo,
    pub name: String,
    pub at: OffsetDateTime,
}

/// For how long this centre keeps each kind of record, and who has confirmed it: until somebody has, nothing is erased by
/// itself. `None` where there is no such centre.
pub async fn periods(
    tx: &mut PgConnection,
    centre: &CentreId,
) -> Result<Option<(Periods, Option<Confirmed>)>, StoreError> {
    let row = sqlx::query!(
        r#"SELECT keep_evidence_months, keep_fails_months, keep_texts_months, keep_candidates_months, keep_links_months,
                  keep_invitations_months, keep_sign_ins_months, keep_exports_months, keep_deeds_months,
                  periods_set_by, periods_set_at, s.name AS "name?"
           FROM centres z LEFT JOIN staff s ON s.centre_id = z.centre_id AND s.number = z.periods_set_by
           WHERE z.centre_id = $1"#,
        centre.as_str(),
    )
    .fetch_optional(tx)
    .await?;
    let Some(row) = row else { return Ok(None) };
    let periods = Periods([
        row.keep_evidence_months,
        row.keep_fails_months,
        row.keep_texts_months,
        row.keep_candidates_months,
        row.keep_links_months,
        row.keep_invitations_months,
        row.keep_sign_ins_months,
        row.keep_exports_months,
        row.keep_deeds_months,
    ]);
    let confirmed = match (row.periods_set_by, row.periods_set_at) {
        (Some(by), Some(at)) => Some(Confirmed { by: StaffNo(by), name: row.name.unwrap_or_default(), at }),
        _ => None,
    };
    Ok(Some((periods, confirmed)))
}

/// Sets and confirms the periods, in the name of whoever decided them. The caller has checked them; what the table does
/// not allow is an error.
pub async fn set_periods(
    tx: &mut PgConnection,
    centre: &CentreId,
    periods: &Periods,
    by: StaffNo,
    now: OffsetDateTime,
) -> Result<(), StoreError> {
    sqlx::query!(
        "UPDATE centres SET keep_evidence_months = $2, keep_fails_months = $3, keep_texts_months = $4,
                keep_candidates_months = $5, keep_links_months = $6, keep_invitations_months = $7,
                keep_sign_ins_months = $8, keep_exports_months = $9, keep_deeds_months = $10, periods_set_by = $11,
                periods_set_at = $12
         WHERE centre_id = $1",
        centre.as_str(),
        periods.of(Kind::Passes),
        periods.of(Kind::Fails),
        periods.of(Kind::Words),
        periods.of(Kind::Candidates),
        periods.of(Kind::Links),
        periods.of(Kind::Invitations),
        periods.of(Kind::SignIns),
        periods.of(Kind::Exports),
        periods.of(Kind::Deeds),
        by.0,
        now,
    )
    .execute(tx)
    .await?;
    Ok(())
}
