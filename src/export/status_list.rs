//! Where a centre says which of its credentials it calls back: W3C Bitstring Status List 1.0, secured like the credentials.
//!
//! A list holds a bit for each of its places, and always the same number of them, so that whoever asks for it does not
//! say which credential they hold.

use super::badge::Issuer;
use super::row::moment;
use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use flate2::Compression;
use flate2::write::GzEncoder;
use serde_json::{Value, json};
use std::io::{self, Write};
use time::{Duration, OffsetDateTime};

/// Places of one list: the fewest that the standard allows (its section 6.1).
pub const PLACES: u32 = 131_072;

/// How long a copy of a list may be used before asking again.
pub const FRESH: Duration = Duration::minutes(5);

/// How long a list says that it holds. An older copy proves nothing, so that nobody keeps one from before a calling back.
const VALID: Duration = Duration::days(1);

/// The place of a credential among all of its centre, counted from 0.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Place(pub u32);

impl Place {
    /// The list it stands in, counted from 0.
    pub fn list(self) -> u32 {
        self.0 / PLACES
    }

    /// Its bit in that list.
    pub fn bit(self) -> u32 {
        self.0 % PLACES
    }
}

impl Issuer {
    /// Where a list is found.
    fn list_address(&self, list: u32) -> String {
        format!("{}/credentials/{}/{list}", self.base, self.centre)
    }

    /// What a credential at this place says of where it is called back.
    pub(super) fn status_of(&self, place: Place) -> Value {
        let list = self.list_address(place.list());
        json!({
            "id": format!("{list}#{}", place.bit()),
            "type": "BitstringStatusListEntry",
            "statusPurpose": "revocation",
            "statusListIndex": place.bit().to_string(),
            "statusListCredential": list,
        })
    }

    /// A list as a compact JWS, in which the credentials at `called_back` are called back; places in other lists are left
    /// out.
    pub fn status_list(&self, list: u32, called_back: &[Place], now: OffsetDateTime) -> io::Result<String> {
        let id = self.list_address(list);
        let encoded = encode(called_back.iter().filter(|place| place.list() == list).map(|place| place.bit()))?;
        Ok(self.secure(&json!({
            "@context": ["https://www.w3.org/ns/credentials/v2"],
            "id": id,
            "type": ["VerifiableCredential", "BitstringStatusListCredential"],
            "issuer": self.base,
            "validFrom": moment(now),
            "validUntil": moment(now + VALID),
            "credentialSubject": {
                "id": format!("{id}#list"),
                "type": "BitstringStatusList",
                "statusPurpose": "revocation",
                "encodedList": encoded,
                "ttl": FRESH.whole_milliseconds() as u64,
            },
            "iss": self.base,
            "jti": id,
            "nbf": now.unix_timestamp(),
            "exp": (now + VALID).unix_timestamp(),
        })))
    }
}

/// Bits that are set, as the standard writes them: the first bit is the highest of the first byte; gzip; multibase with
/// `u` for base64 with the alphabet for addresses.
fn encode(set: impl Iterator<Item = u32>) -> io::Result<String> {
    let mut bits = vec![0u8; (PLACES / 8) as usize];
    for bit in set {
        bits[(bit / 8) as usize] |= 0x80 >> (bit % 8);
    }
    let mut packed = GzEncoder::new(Vec::new(), Compression::best());
    packed.write_all(&bits)?;
    Ok(format!("u{}", URL_SAFE_NO_PAD.encode(packed.finish()?)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use flate2::read::GzDecoder;
    use proptest::prelude::*;
    use std::collections::BTreeSet;
    use std::io::Read;

    fn bits_of(encoded: &str) -> Vec<u8> {
        let mut bits = Vec::new();
        let packed = URL_SAFE_NO_PAD.decode(encoded.strip_prefix('u').unwrap()).unwrap();
        GzDecoder::new(&packed[..]).read_to_end(&mut bits).unwrap();
        bits
    }

    #[test]
    fn a_place_is_a_bit_of_a_list() {
        let at = |place| (Place(place).list(), Place(place).bit());
        assert_eq!([at(0), at(131_071), at(131_072), at(131_073)], [(0, 0), (0, 131_071), (1, 0), (1, 1)]);
    }

    #[test]
    fn an_empty_list_is_16_kib_of_noughts_as_the_standard_asks() {
        let bits = bits_of(&encode([].into_iter()).unwrap());
        assert_eq!((bits.len(), bits.iter().any(|byte| *byte != 0)), (16_384, false));
    }

    proptest! {
        #[test]
        fn a_bit_is_set_where_a_credential_is_called_back_and_nowhere_else(
            set in proptest::collection::btree_set(0..PLACES, 0..40)
        ) {
            let bits = bits_of(&encode(set.iter().copied()).unwrap());
            let found: BTreeSet<u32> =
                (0..PLACES).filter(|bit| bits[(bit / 8) as usize] >> (7 - bit % 8) & 1 == 1).collect();
            prop_assert_eq!(found, set);
        }
    }
}
