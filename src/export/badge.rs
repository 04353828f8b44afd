//! A credential for each pass: Open Badges 3.0, secured as a VC-JWT (its section 8) with EdDSA over Ed25519.
//!
//! The other way of securing one, `eddsa-rdfc-2022`, signs a canonical graph; no small, well-kept crate makes that, and
//! RSA keys (RS256) would need one with an open advisory about timing. The key travels in the header, so that a file can
//! be checked without a network; whose key it is, the centre says elsewhere. A verdict that was amended gets a credential
//! of its own or none; where the earlier one is revoked is not part of this file.

use super::row::{Row, moment};
use super::xapi;
use crate::marking::{Outcome, VerdictOutcome};
use ed25519_dalek::{Signer, SigningKey};
use serde_json::{Value, json};
use sha2::{Digest, Sha256};

/// The JSON Schema (2020-12) of a credential: what the specification asks, and that there are criteria.
pub const SCHEMA: &str = include_str!("credential.schema.json");

/// Who issues.
pub struct Issuer {
    key: SigningKey,
    /// The centre's own address, without a slash at its end.
    pub base: String,
    /// The centre's name.
    pub name: String,
}

impl Issuer {
    /// An issuer with this key, 32 bytes that nobody else knows.
    pub fn new(key: &[u8; 32], base: String, name: String) -> Self {
        Self { key: SigningKey::from_bytes(key), base, name }
    }

    /// The credential for a pass, as one line: a compact JWS. `None` for every other verdict.
    pub fn credential(&self, row: &Row) -> Option<String> {
        let claims = self.claims(row)?;
        let header = json!({ "alg": "EdDSA", "typ": "JWT", "jwk": self.public_key() });
        let signed =
            format!("{}.{}", base64url(header.to_string().as_bytes()), base64url(claims.to_string().as_bytes()));
        let signature = self.key.sign(signed.as_bytes());
        Some(format!("{signed}.{}", base64url(&signature.to_bytes())))
    }

    /// The public key as a JSON Web Key (RFC 8037).
    pub fn public_key(&self) -> Value {
        json!({ "kty": "OKP", "crv": "Ed25519", "x": base64url(self.key.verifying_key().as_bytes()) })
    }

    fn claims(&self, row: &Row) -> Option<Value> {
        if row.outcome != VerdictOutcome::Pass {
            return None;
        }
        let id = format!("urn:uuid:{}", row.result_id());
        let mut subject = json!({
            "type": ["AchievementSubject"],
            "identifier": [self.identity(row)],
            "achievement": self.achievement(row),
            "result": self.results(row),
        });
        if let (Some(start), Some(end)) = (row.started_at, row.ended_at()) {
            subject["activityStartDate"] = json!(moment(start));
            subject["activityEndDate"] = json!(moment(end));
        }
        Some(json!({
            "@context": [
                "https://www.w3.org/ns/credentials/v2",
                "https://purl.imsglobal.org/spec/ob/v3p0/context-3.0.3.json",
            ],
            "id": id,
            "type": ["VerifiableCredential", "OpenBadgeCredential"],
            "name": row.task_title,
            "issuer": { "id": self.base, "type": ["Profile"], "name": self.name },
            "validFrom": moment(row.signed_at),
            "credentialSubject": subject,
            "iss": self.base,
            "jti": id,
            "nbf": row.signed_at.unix_timestamp(),
        }))
    }

    /// The candidate by the centre's reference, hashed with a salt that only the holder of the key can work out before
    /// it is told, and that is the same in every export.
    fn identity(&self, row: &Row) -> Value {
        let mut hash = Sha256::new();
        hash.update(self.key.to_bytes());
        hash.update(b"baywitness badge salt");
        hash.update(row.candidate_ref.as_bytes());
        let salt = hex(&hash.finalize()[..16]);
        let hashed = Sha256::digest(format!("{}{salt}", row.candidate_ref));
        json!({
            "type": "IdentityObject",
            "hashed": true,
            "identityHash": format!("sha256${}", hex(&hashed)),
            "identityType": "identifier",
            "salt": salt,
        })
    }

    fn achievement(&self, row: &Row) -> Value {
        let id = xapi::task(row, &self.base);
        let mut described = vec![json!({
            "id": format!("{id}#marks"),
            "type": ["ResultDescription"],
            "name": "Marks",
            "resultType": "RawScore",
            "valueMin": "0",
            "valueMax": row.out_of.to_string(),
        })];
        described.extend(judged(row).map(|(criterion, says, _)| {
            json!({
                "id": format!("{id}#criterion-{criterion}"),
                "type": ["ResultDescription"],
                "name": says,
                "resultType": "Status",
            })
        }));
        json!({
            "id": id,
            "type": ["Achievement"],
            "achievementType": "Assessment",
            "name": row.task_title,
            "description": format!("Isolating one circuit and proving it dead under observation: {}.", row.task_title),
            "version": row.task_version.to_string(),
            "criteria": { "narrative": format!(
                "Pass version {} of this task, watched throughout by an assessor: every criterion that decides the matter met, and enough marks.",
                row.task_version) },
            "resultDescription": described,
        })
    }

    fn results(&self, row: &Row) -> Vec<Value> {
        let id = xapi::task(row, &self.base);
        let mut results = vec![json!({
            "type": ["Result"],
            "resultDescription": format!("{id}#marks"),
            "value": row.marks.to_string(),
            "status": "Completed",
        })];
        results.extend(judged(row).map(|(criterion, _, met)| {
            json!({
                "type": ["Result"],
                "resultDescription": format!("{id}#criterion-{criterion}"),
                "status": if met { "Completed" } else { "Failed" },
            })
        }));
        results
    }
}

/// The criteria that were judged: identifier, what it asks, whether it is met.
fn judged(row: &Row) -> impl Iterator<Item = (&str, &str, bool)> {
    let findings = row.marked.iter().flat_map(|marked| &marked.findings);
    findings
        .filter(|one| matches!(one.outcome, Outcome::Met | Outcome::NotMet))
        .map(|one| (one.criterion.as_str(), one.says.as_str(), one.outcome == Outcome::Met))
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

/// Base64 with the alphabet for addresses and without padding (RFC 4648, section 5).
fn base64url(bytes: &[u8]) -> String {
    const ALPHABET: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_";
    let mut text = String::with_capacity(bytes.len().div_ceil(3) * 4);
    for three in bytes.chunks(3) {
        let word = three.iter().fold(0u32, |word, byte| word << 8 | u32::from(*byte)) << (8 * (3 - three.len()));
        for sixth in 0..=three.len() {
            text.push(ALPHABET[(word >> (18 - 6 * sixth) & 63) as usize].into());
        }
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::export::samples;

    #[test]
    fn base64_is_that_of_the_standard() {
        // RFC 4648, section 10, without the padding; the last two bytes need both letters of the other alphabet.
        for (bytes, text) in
            [("", ""), ("f", "Zg"), ("fo", "Zm8"), ("foo", "Zm9v"), ("foob", "Zm9vYg"), ("fooba", "Zm9vYmE")]
        {
            assert_eq!(base64url(bytes.as_bytes()), text);
        }
        assert_eq!(base64url(&[0xfb, 0xff]), "-_8");
    }

    #[test]
    fn a_pass_has_a_credential_without_a_name_and_a_fail_has_none() {
        let issuer = Issuer::new(&[7; 32], "https://northgate.example".into(), "Northgate (invented)".into());
        let row = samples::row("Sukarno");
        let claims = issuer.claims(&row).unwrap().to_string();
        assert!(!claims.contains("Sukarno") && !claims.contains("REG-0042"), "{claims}");
        assert_eq!(issuer.credential(&row), issuer.credential(&row), "the same each time");
        assert_eq!(issuer.credential(&Row { outcome: VerdictOutcome::Fail, ..row }), None);
    }
}
