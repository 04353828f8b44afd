//! What the clocks beside the entries tell: clocks that were moved, tablets that slept, entries made after the fact.
//!
//! Nothing is refused and no order is changed for it: the flags stand beside the record for a person to weigh. A
//! device's own numbers give the order of what it recorded, and the server's clock says when it was received.

use super::entry::{Content, Entry};
use std::collections::{BTreeMap, BTreeSet};

/// Further than this from the server's clock, or from itself, and a clock is flagged: one minute, in milliseconds.
pub const FAR_MS: i64 = 60_000;

/// Within one page load the wall clock and the steady clock may differ by this much between two entries, in
/// milliseconds: rounding and the slow drift of either.
pub const STEP_MS: i64 = 2_000;

/// How long a contact may have been on its way, in milliseconds: tablets give up after that.
pub const ON_ITS_WAY_MS: i64 = 10_000;

/// A contact of a device that had nothing to send.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Contact {
    /// Staff number of the person who was signed in.
    pub by: i32,
    /// The device, as it names itself.
    pub device: String,
    /// When it was received, in milliseconds since 1970 by the server's clock.
    pub at: i64,
    /// The highest number that it had made by then.
    pub high: u32,
}

/// Something about the clocks of one device that a person should know.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Flag {
    /// The device, as it names itself.
    pub device: String,
    /// Staff number of the person whose log it stands in.
    pub by: i32,
    pub says: Says,
}

/// What there is to know.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Says {
    /// The wall clock was this far ahead of the server's (positive) or behind it, in milliseconds: the furthest.
    Off { ahead_ms: i64, entries: usize },
    /// Between two contacts the wall clock was moved this far against the server's, in milliseconds; positive is ahead.
    /// `before` and `after` are session times.
    Moved { before_ms: u64, after_ms: u64, ahead_ms: i64 },
    /// Within a page load the wall clock ran this much further (positive) or less than the steady clock: it was set, or
    /// the device slept.
    Apart { before_ms: u64, after_ms: u64, ahead_ms: i64 },
    /// So many entries were received more than a minute after they claim to have been made, though the device had been
    /// in contact in between. `first_ms` is the session time of the first, `longest_ms` the longest delay.
    Late { entries: usize, first_ms: u64, longest_ms: i64 },
}

/// Every flag that these entries of one session deserve, by person and device, in the order of the device's numbers.
/// `contacts` are those in which nothing was sent.
pub fn flags(entries: &[Entry], contacts: &[Contact]) -> Vec<Flag> {
    let mut devices: BTreeMap<(i32, &str), Vec<&Entry>> = BTreeMap::new();
    for entry in entries.iter().filter(|entry| is_seen(entry)) {
        devices.entry((entry.origin.by, &entry.origin.device)).or_default().push(entry);
    }
    let mut flags = Vec::new();
    for ((by, device), mut own) in devices {
        own.sort_by_key(|entry| entry.seq);
        let of_device = |contact: &&Contact| (contact.by, contact.device.as_str()) == (by, device);
        let idle: Vec<&Contact> = contacts.iter().filter(of_device).collect();
        let says = off(&own).into_iter().chain(moved(&own)).chain(apart(&own)).chain(late(&own, &idle));
        flags.extend(says.map(|says| Flag { device: device.to_owned(), by, says }));
    }
    flags
}

fn is_seen(entry: &Entry) -> bool {
    matches!(entry.content, Content::Observed { .. } | Content::Late { .. })
}

/// When an entry claims to have been made, by the server's clock; never after it was received.
fn observed_at(entry: &Entry) -> i64 {
    entry.wall.saturating_add(entry.origin.offset).min(entry.origin.received)
}

fn off(own: &[&Entry]) -> Option<Says> {
    let far = own.iter().map(|entry| entry.origin.offset).filter(|offset| offset.saturating_abs() > FAR_MS);
    let entries = far.clone().count();
    let furthest = far.max_by_key(|offset| offset.saturating_abs())?;
    Some(Says::Off { ahead_ms: furthest.saturating_neg(), entries })
}

/// Neighbours that were sent with offsets more than a minute apart, whatever page load they came from.
fn moved(own: &[&Entry]) -> Vec<Says> {
    let pairs = own.windows(2).filter_map(|pair| {
        let ahead_ms = pair[0].origin.offset.saturating_sub(pair[1].origin.offset);
        let says = Says::Moved { before_ms: pair[0].mono, after_ms: pair[1].mono, ahead_ms };
        (ahead_ms.saturating_abs() > FAR_MS).then_some(says)
    });
    pairs.collect()
}

/// Steps of the two clocks within a page load. Entries whose session time does not move on say nothing here: a
/// correction takes the time of what it corrects, and session time stands still before the start and after the end.
fn apart(own: &[&Entry]) -> Vec<Says> {
    let mut last: BTreeMap<&str, &Entry> = BTreeMap::new();
    let mut says = Vec::new();
    for entry in own {
        let before = last.get(entry.origin.run.as_str()).copied().filter(|before| before.mono > 0 || entry.mono > 0);
        let Some(before) = before else {
            last.insert(&entry.origin.run, entry);
            continue;
        };
        if entry.mono <= before.mono {
            continue;
        }
        let steady = i64::try_from(entry.mono - before.mono).unwrap_or(i64::MAX);
        let ahead_ms = entry.wall.saturating_sub(before.wall).saturating_sub(steady);
        if ahead_ms.saturating_abs() > STEP_MS {
            says.push(Says::Apart { before_ms: before.mono, after_ms: entry.mono, ahead_ms });
        }
        last.insert(&entry.origin.run, entry);
    }
    says
}

/// When each entry claims to have been made: the earlier of what its wall clock and its session time say. Session time
/// counts where it went back behind what the device had recorded before, as it never does by itself; what stands in for
/// something struck takes the time of that and claims nothing by it.
fn claims(own: &[&Entry]) -> Vec<i64> {
    let mono_of: BTreeMap<String, u64> = own.iter().map(|entry| (entry.id.to_string(), entry.mono)).collect();
    let mut struck: BTreeSet<u64> = BTreeSet::new();
    let mut made: BTreeMap<u64, i64> = BTreeMap::new();
    let mut claims = Vec::with_capacity(own.len());
    for entry in own {
        let observed = observed_at(entry);
        let went_back = made.last_key_value().is_some_and(|(furthest, _)| *furthest > entry.mono);
        let before = made.range(..=entry.mono).next_back().filter(|_| went_back && !struck.contains(&entry.mono));
        let by_session_time = before.map(|(mono, at)| at.saturating_add_unsigned(entry.mono - mono));
        claims.push(by_session_time.map_or(observed, |at| at.min(observed)));
        struck.extend(entry.content.act().and_then(|act| mono_of.get(act.strikes()?)));
        if !went_back {
            made.insert(entry.mono, observed);
        }
    }
    claims
}

/// Entries that came more than a minute after they claim to have been made, though the device was in contact after
/// that moment and more than a minute before they came. A contact in the last minute says nothing: a full outbox takes
/// several batches to empty. Nor does one that came so soon that it may have left before, or an idle contact at which
/// the number had been made already.
fn late(own: &[&Entry], idle: &[&Contact]) -> Option<Says> {
    let mut contacts: Vec<i64> = own.iter().map(|entry| entry.origin.received).collect();
    contacts.sort_unstable();
    let is_late = |(entry, at): &(&Entry, i64)| {
        let (at, received) = (*at, entry.origin.received);
        let left_after = at.saturating_add(ON_ITS_WAY_MS);
        let long_before = |contact: i64| received.saturating_sub(contact) > FAR_MS;
        let next = contacts.partition_point(|contact| *contact <= left_after);
        let not_made = |contact: &&&Contact| contact.high < entry.seq && contact.at > left_after;
        contacts.get(next).is_some_and(|contact| long_before(*contact))
            || idle.iter().filter(not_made).any(|contact| long_before(contact.at))
    };
    let late: Vec<_> = own.iter().copied().zip(claims(own)).filter(is_late).collect();
    let longest_ms = late.iter().map(|(entry, at)| entry.origin.received.saturating_sub(*at)).max()?;
    Some(Says::Late { entries: late.len(), first_ms: late.first()?.0.mono, longest_ms })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::marking::observation::Wall;
    use crate::marking::{Act, Observation, ObservationId};
    use crate::seal::{Origin, Salt};
    use uuid::Uuid;

    const START: i64 = 1_801_648_800_000;
    const MINUTE: i64 = 60_000;
    const DAY: i64 = 24 * 60 * MINUTE;

    /// A tablet, online, that records something each half minute; `wrong_by` says how far its wall clock is ahead at
    /// each entry.
    fn online(wrong_by: &[i64]) -> Vec<Entry> {
        let entry = |(at, wrong): (usize, &i64)| {
            let mono = i64::try_from(at).unwrap() * 30_000;
            entry(u32::try_from(at).unwrap() + 1, mono, START + mono + wrong, START + mono + 200, -wrong)
        };
        wrong_by.iter().enumerate().map(entry).collect()
    }

    fn entry(seq: u32, mono: i64, wall: i64, received: i64, offset: i64) -> Entry {
        let (id, at_ms) = (ObservationId(Uuid::from_u128(u128::from(seq))), u64::try_from(mono).unwrap());
        let seen = Observation { id, seq, at_ms, wall: Wall(wall), act: Act::ViewBlocked };
        let origin = Origin { by: 7, device: "d-1".into(), run: "r-1".into(), received, offset, error: 20 };
        Entry::observed(&seen, origin, &Salt::new([0; 32])).unwrap().0
    }

    fn says(entries: &[Entry]) -> Vec<Says> {
        flags(entries, &[]).into_iter().map(|flag| flag.says).collect()
    }

    #[test]
    fn a_clock_that_is_right_is_not_flagged() {
        assert_eq!(says(&online(&[0, 0, 40, 0, 1_900, 1_950])), []);
        assert_eq!(says(&online(&[MINUTE; 4])), [], "a minute is not more than a minute");
    }

    #[test]
    fn a_day_ahead_and_a_day_behind_are_flagged_once() {
        assert_eq!(says(&online(&[DAY; 5])), [Says::Off { ahead_ms: DAY, entries: 5 }]);
        assert_eq!(says(&online(&[-DAY; 3])), [Says::Off { ahead_ms: -DAY, entries: 3 }]);
    }

    #[test]
    fn ten_minutes_back_in_the_middle_are_seen_in_three_ways() {
        let back = -10 * MINUTE;
        let expected = [
            Says::Off { ahead_ms: back, entries: 2 },
            Says::Moved { before_ms: 30_000, after_ms: 60_000, ahead_ms: back },
            Says::Apart { before_ms: 30_000, after_ms: 60_000, ahead_ms: back },
        ];
        assert_eq!(says(&online(&[0, 0, back, back])), expected);
    }

    #[test]
    fn a_tablet_that_slept_is_seen_by_its_steady_clock() {
        let mut entries = online(&[0; 4]);
        // Twenty minutes of sleep between the second and the third, which the steady clock missed.
        for entry in &mut entries[2..] {
            entry.wall += 20 * MINUTE;
            entry.origin.received += 20 * MINUTE;
        }
        assert_eq!(says(&entries), [Says::Apart { before_ms: 30_000, after_ms: 60_000, ahead_ms: 20 * MINUTE }]);
    }

    #[test]
    fn a_correction_and_what_follows_the_end_are_not_sleep() {
        let mut entries = online(&[0; 4]);
        // The third stands in for the first, with its session time; the last was made long after the end.
        entries[2].mono = 0;
        entries[3].mono = 30_000;
        entries[3].wall += 30 * MINUTE;
        entries[3].origin.received += 30 * MINUTE;
        entries[2].mono = 15_000;
        assert_eq!(says(&entries), []);
    }

    #[test]
    fn half_an_hour_offline_is_not_late() {
        // Two hundred entries in half an hour, sent in two batches when contact came back.
        let back = START + 31 * MINUTE;
        let offline = |at: i64| {
            let (mono, received) = (at * 9_000, if at <= 100 { back } else { back + 900 });
            entry(u32::try_from(at).unwrap(), mono, START + mono, received, 0)
        };
        let entries: Vec<Entry> = (1..=200).map(offline).collect();
        assert_eq!(says(&entries), []);
    }

    #[test]
    fn twenty_minutes_from_memory_while_online_are_late() {
        let mut entries = online(&[0; 60]);
        let (now, claimed) = (START + 30 * MINUTE, 10 * MINUTE);
        entries.push(entry(61, claimed, START + claimed, now, 0));
        let late = Says::Late { entries: 1, first_ms: 600_000, longest_ms: 20 * MINUTE };
        assert_eq!(says(&entries), [late]);
    }

    #[test]
    fn session_time_that_went_back_is_a_claim_whatever_the_wall_clock_says() {
        let (claimed, now) = (10 * MINUTE, START + 30 * MINUTE);
        let late = Says::Late { entries: 1, first_ms: 600_000, longest_ms: 20 * MINUTE };
        // The wall clock of the moment, but a session time of twenty minutes before.
        let mut entries = online(&[0; 60]);
        entries.push(entry(61, claimed, now, now, 0));
        assert_eq!(says(&entries), std::slice::from_ref(&late));
        // A correction first strikes what it stands in for, and takes its time.
        let corrected = ObservationId(entries[20].id);
        let reason = crate::marking::observation::StrikeReason::Corrected;
        let act = Act::Struck { observation: corrected, reason, text: None };
        let seen =
            Observation { id: ObservationId(Uuid::from_u128(99)), seq: 61, at_ms: 1_800_000, wall: Wall(now), act };
        let strike = Entry::observed(&seen, entries[60].origin.clone(), &Salt::new([0; 32])).unwrap().0;
        entries[60] = strike;
        entries.push(entry(62, claimed, now, now, 0));
        assert_eq!(says(&entries), []);
        // It is no cover for another moment.
        entries.push(entry(63, claimed + 1_000, now, now, 0));
        assert_eq!(says(&entries), [Says::Late { first_ms: 601_000, longest_ms: 20 * MINUTE - 1_000, entries: 1 }]);
    }

    #[test]
    fn what_was_made_while_the_last_request_was_on_its_way_is_not_late() {
        let mut entries = online(&[0; 3]);
        // Made 0.1 s before the service took the third, whose reply was lost with the network for twenty minutes.
        entries.push(entry(4, 60_100, START + 60_100, START + 21 * MINUTE, 0));
        assert_eq!(says(&entries), []);
    }

    fn idle(at_minutes: i64, high: u32) -> Contact {
        Contact { by: 7, device: "d-1".into(), at: START + at_minutes * MINUTE, high }
    }

    /// Whether an entry is called late that names minute 10 and comes at minute 30, after these contacts.
    fn is_late(contacts: &[Contact]) -> bool {
        let mut entries = online(&[0; 3]);
        entries.push(entry(4, 10 * MINUTE, START + 10 * MINUTE, START + 30 * MINUTE, 0));
        flags(&entries, contacts).iter().any(|flag| matches!(flag.says, Says::Late { entries: 1, .. }))
    }

    #[test]
    fn an_idle_tablet_in_contact_is_not_out_of_contact() {
        assert!(!is_late(&[]), "without a contact it may have been offline");
        assert!(is_late(&[idle(12, 3)]), "in contact two minutes later, it had not made this number");
        assert!(!is_late(&[idle(12, 4)]), "it had made it, and could not send it");
        assert!(!is_late(&[idle(9, 3)]), "in contact only before");
        assert!(!is_late(&[idle(30, 3)]), "a contact in the last minute says nothing");
        assert!(
            !is_late(&[Contact { at: START + 10 * MINUTE + ON_ITS_WAY_MS, ..idle(0, 3) }]),
            "it may have left before"
        );
        assert!(!is_late(&[Contact { device: "d-2".into(), ..idle(12, 3) }]), "another device");
        assert!(!is_late(&[Contact { by: 8, ..idle(12, 3) }]), "another person");
    }

    #[test]
    fn numbers_at_the_edge_of_their_range_do_not_break_it() {
        let mut entries = online(&[0; 3]);
        entries[0].origin.offset = i64::MIN;
        entries[1].origin.offset = i64::MAX;
        entries[2].wall = i64::MIN;
        entries[2].origin.received = i64::MAX;
        assert!(!flags(&entries, &[]).is_empty());
    }
}
