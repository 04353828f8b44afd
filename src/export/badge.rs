//! A credential for each pass: Open Badges 3.0, secured as a VC-JWT (its section 8) with EdDSA over Ed25519.
//!
//! The other way of securing one, `eddsa-rdfc-2022`, signs a canonical graph; no small, well-kept crate makes that, and
//! RSA keys (RS256) would need one with an open advisory about timing. The key travels in the header, so that a file can
//! be checked without a network; whose key it is, the centre says elsewhere. A verdict that was amended gets a credential
//! of its own or none, and the earlier one is called back in the list that it names: [`super::status_list`].

use super::row::{Row, moment};
use super::xapi;
use crate::marking::{Outcome, VerdictOutcome};
use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
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
    /// The centre's code.
    pub centre: String,
    /// The centre's name.
    pub name: String,
}

impl Issuer {
    /// An issuer with this key, 32 bytes that nobody else knows.
    pub fn new(key: &[u8; 32], base: String, centre: String, name: String) -> Self {
        Self { key: SigningKey::from_bytes(key), base, centre, name }
    }

    /// The credential for a pass, as one line: a compact JWS. `None` for every other verdict, and for one that was amended.
    pub fn credential(&self, row: &Row) -> Option<String> {
        Some(self.secure(&self.claims(row)?))
    }

    /// Claims with their signature, as a compact JWS (RFC 7515).
    pub(super) fn secure(&self, claims: &Value) -> String {
        let header = json!({ "alg": "EdDSA", "typ": "JWT", "jwk": self.public_key() });
        let part = |value: &Value| URL_SAFE_NO_PAD.encode(value.to_string());
        let signed = format!("{}.{}", part(&header), part(claims));
        let signature = URL_SAFE_NO_PAD.encode(self.key.sign(signed.as_bytes()).to_bytes());
        format!("{signed}.{signature}")
    }

    /// The public key as a JSON Web Key (RFC 8037).
    pub fn public_key(&self) -> Value {
        json!({ "kty": "OKP", "crv": "Ed25519", "x": URL_SAFE_NO_PAD.encode(self.key.verifying_key().as_bytes()) })
    }

    fn claims(&self, row: &Row) -> Option<Value> {
        if row.outcome != VerdictOutcome::Pass || row.superseded {
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
        let mut claims = json!({
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
        });
        // A list that cannot be fetched safely is none, and whoever checks would refuse the credential for it.
        if let Some(place) = row.place.filter(|_| self.base.starts_with("https://")) {
            claims["credentialStatus"] = self.status_of(place);
        }
        Some(claims)
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::export::samples;

    #[test]
    fn a_pass_has_a_credential_without_a_name_and_a_fail_has_none() {
        let issuer = Issuer::new(
            &[7; 32],
            "https://northgate.example".into(),
            "northgate".into(),
            "Northgate (invented)".into(),
        );
        let row = samples::row("Sukarno");
        let claims = issuer.claims(&row).unwrap().to_string();
        assert!(!claims.contains("Sukarno") && !claims.contains("REG-0042"), "{claims}");
        assert_eq!(issuer.credential(&row), issuer.credential(&row), "the same each time");
        assert_eq!(issuer.credential(&Row { outcome: VerdictOutcome::Fail, ..row }), None);
    }
}
