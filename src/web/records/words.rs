//! What the kinds of record are called, what becomes of them, and why they are kept for so long.

use crate::store::keeping::Kind;

/// What a kind is called.
pub fn label(kind: Kind) -> &'static str {
    match kind {
        Kind::Passes => "Sessions passed",
        Kind::Fails => "Sessions not passed",
        Kind::Words => "Words of sessions",
        Kind::Candidates => "Candidates",
        Kind::Links => "Feedback links",
        Kind::Invitations => "Invitations and private addresses",
        Kind::SignIns => "Sign-ins that ended",
        Kind::Exports => "Record of exports",
        Kind::Deeds => "Record of who did what",
    }
}

/// What becomes of it when its time is over.
pub fn goes(kind: Kind) -> &'static str {
    match kind {
        Kind::Passes | Kind::Fails => {
            "The session is cut off from the candidate, with every text. What was seen stays as nobody’s, so that its proof holds."
        }
        Kind::Words => "Notes of the assessor, reasons of decisions and of cancelled plans go. The marking stays.",
        Kind::Candidates => "Name, reference and adjustments go, with whatever is left of their sessions.",
        Kind::Links => "The link ends, with the record of visits.",
        Kind::Invitations => "Used, withdrawn and expired ones go, and calendar addresses that were taken back.",
        Kind::SignIns => "When and on what somebody was signed in goes, and the counts of tries.",
        Kind::Exports => "Who exported what goes. The files themselves go after a day.",
        Kind::Deeds => "The oldest rows go.",
    }
}

/// From when its time is counted.
pub fn from(kind: Kind) -> &'static str {
    match kind {
        Kind::Passes | Kind::Fails | Kind::Words => "from the signature",
        Kind::Candidates => "from their last session",
        Kind::Links => "from when they were made",
        Kind::Invitations | Kind::SignIns => "from their end",
        Kind::Exports | Kind::Deeds => "from each entry",
    }
}

/// Why it is kept for some time, for whoever sets the period.
pub fn advice(kind: Kind) -> &'static str {
    match kind {
        Kind::Passes => "As long as a pass may have to be shown to others. Awarding bodies often ask for three years.",
        Kind::Fails => {
            "As long as somebody may still ask about it. A resit and an appeal are over sooner than a pass is."
        }
        Kind::Words => "They are needed to talk about the session. At most as long as sessions passed.",
        Kind::Candidates => "Never shorter than a session that is still theirs.",
        Kind::Links => "At most as long as sessions passed.",
        Kind::Invitations => "Long enough to see who was let in, and when.",
        Kind::SignIns => "Long enough to look into a stolen password.",
        Kind::Exports => "Long enough to answer who took somebody’s data out of the house.",
        Kind::Deeds => "Six years is how long a claim about a contract can wait in England (Limitation Act 1980).",
    }
}
