//! How the clocks of a centre run, as the database's own tz data tells.

use super::{CentreId, StoreError};
use crate::export::calendar::{Change, Zone};
use sqlx::PgConnection;
use time::{Duration, OffsetDateTime};

/// Longest span that is looked through.
const LONGEST: Duration = Duration::days(366 * 12);

/// The zone of the centre from a day before `from` to a day after `until` (at most twelve years later), so that every
/// instant between is covered.
pub async fn of_centre(
    tx: &mut PgConnection,
    centre: &CentreId,
    from: OffsetDateTime,
    until: OffsetDateTime,
) -> Result<Zone, StoreError> {
    let since = from.saturating_sub(Duration::DAY);
    let until = until.clamp(from, from.saturating_add(LONGEST)).saturating_add(Duration::DAY);
    let first = sqlx::query!(
        r#"SELECT time_zone, extract(epoch FROM ($2::timestamptz AT TIME ZONE time_zone)
                                              - ($2::timestamptz AT TIME ZONE 'UTC'))::integer AS "seconds!"
           FROM centres WHERE centre_id = $1"#,
        centre.as_str(),
        since,
    )
    .fetch_one(&mut *tx)
    .await?;
    // Days whose offset differs from that of the day after hold a change, which is then looked for by the minute.
    let rows = sqlx::query!(
        r#"WITH zone AS (SELECT time_zone AS name FROM centres WHERE centre_id = $1),
                days AS (SELECT day, (day AT TIME ZONE name) - (day AT TIME ZONE 'UTC') AS east
                         FROM zone, generate_series($2::timestamptz, $3::timestamptz, interval '24 hours') day),
                changed AS (SELECT day FROM (SELECT day, east, lead(east) OVER (ORDER BY day) AS next FROM days) AS d
                            WHERE next <> east),
                minutes AS (SELECT minute, (minute AT TIME ZONE name) - (minute AT TIME ZONE 'UTC') AS east,
                                   lag((minute AT TIME ZONE name) - (minute AT TIME ZONE 'UTC'))
                                   OVER (PARTITION BY day ORDER BY minute) AS before
                            FROM zone, changed,
                                 generate_series(day, day + interval '24 hours', interval '1 minute') minute)
           SELECT minute AS "at!", extract(epoch FROM east)::integer AS "seconds!"
           FROM minutes WHERE east <> before ORDER BY minute"#,
        centre.as_str(),
        since,
        until,
    )
    .fetch_all(tx)
    .await?;
    let changes = rows.into_iter().map(|row| Change { at: row.at, seconds: row.seconds }).collect();
    Ok(Zone { name: first.time_zone, since, seconds: first.seconds, changes })
}
