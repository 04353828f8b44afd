//! Welsh. Made by a machine: a translator has to check it before it is relied on.

use super::plural::Category;
use super::{Catalogue, Counted, Key, Topic};

pub(super) const CATALOGUE: Catalogue = Catalogue {
    tag: "cy",
    say,
    advise,
    count,
    months: [
        "Ionawr",
        "Chwefror",
        "Mawrth",
        "Ebrill",
        "Mai",
        "Mehefin",
        "Gorffennaf",
        "Awst",
        "Medi",
        "Hydref",
        "Tachwedd",
        "Rhagfyr",
    ],
    date: "{day} {month} {year}",
    decimal: '.',
};

fn say(key: Key) -> &'static str {
    match key {
        Key::Title => "Eich adborth",
        Key::Skip => "Ewch i'r cynnwys",
        Key::Footer => {
            "Adborth ar hyfforddiant yw hwn. Nid trwydded i weithio ydyw. Yn y gwaith, dilynwch y rheolau lleol a gofynnwch i berson cymwys."
        }
        Key::LanguageLabel => "Iaith",
        Key::AskLead => "Teipiwch y cod a gawsoch gan eich asesydd.",
        Key::CodeLabel => "Cod",
        Key::CodeHint => "Wyth llythyren a rhif. Nid yw bylchau a llythrennau bach o bwys.",
        Key::CodeRefused => {
            "Nid yw'r ddolen a'r cod hynny'n agor dim. Gwiriwch y cod. Ar ôl pum cod anghywir bydd y ddolen yn cloi; yna gofynnwch i'ch asesydd am un newydd."
        }
        Key::Open => "Agor fy adborth",
        Key::Code => "Cod y cofnod: {code}",
        Key::EndedTitle => "Agorwch eich dolen eto",
        Key::Ended => {
            "Mae eich adborth yn aros ar agor am hanner awr ar y tro. Agorwch y ddolen a gawsoch gan eich asesydd a theipiwch y cod."
        }
        Key::NotYetTitle => "Nid yw eich adborth yma eto",
        Key::NotYet => "Nid yw eich canolfan wedi ei agor eto. Cadwch eich dolen a'ch cod. Gallwch eu defnyddio eto.",
        Key::NotYetUntil => "Bydd yn agor ar {day} am {time}.",
        Key::NotYetTold => "Bydd rhywun yn dweud wrthych wyneb yn wyneb yn gyntaf. Yna bydd yn agor.",
        Key::Passed => "Rydych wedi pasio.",
        Key::NotPassed => "Ni wnaethoch basio y tro hwn.",
        Key::NotFinished => "Ni chafodd eich ymgais ei gorffen.",
        Key::About => "{name}, dyma eich adborth ar: {task}. Cafodd ei lofnodi ar {day}.",
        Key::OfficialWord => "Y gair swyddogol yw:",
        Key::Pass => "pasio",
        Key::Fail => "methu",
        Key::AutomaticFail => "methu awtomatig",
        Key::Unfinished => "heb orffen",
        Key::NextTitle => "Beth sy'n digwydd nesaf",
        Key::NextPassed => "Mae eich canolfan yn cadw'r canlyniad hwn. Nid oes rhaid i chi wneud dim mwy.",
        Key::NextNotPassed => {
            "Gallwch roi cynnig arall arni. Gweithiwch ar y pwyntiau isod yn gyntaf, yna gofynnwch i'ch canolfan am ddyddiad newydd."
        }
        Key::NextNotFinished => {
            "Gofynnwch i'ch canolfan am ddyddiad newydd. Mae'r hyn a wnaethoch hyd yma wedi ei restru isod."
        }
        Key::OpenUntil => "Gallwch agor y dudalen hon tan {day}.",
        Key::ReviewUntil => "Gallwch ofyn am adolygiad tan {day}.",
        Key::ChangeFirst => "Beth i'w newid yn gyntaf",
        Key::DoBetter => "Beth i'w wneud yn well",
        Key::Seen => "Beth a welwyd",
        Key::Why => "Pam mae'n bwysig",
        Key::NextTime => "Y tro nesaf",
        Key::Minute => "Munud {minute}",
        Key::WentWell => "Beth aeth yn dda",
        Key::At => "munud {minute}",
        Key::Steps => "Beth wnaethoch chi, funud wrth funud",
        Key::Rounds => "Eich profion, rownd wrth rownd",
        Key::Missed => "Beth y byddai eich profion wedi ei golli",
        Key::MissedLead => {
            "Gall pwynt edrych yn farw a dal i fod yn fyw. Dyma beth y byddai eich profion wedi ei ddangos ym mhob achos."
        }
        Key::Points => "Pob pwynt a farciwyd",
        Key::Marks => "{marks} o {of} marc ({percent} %)",
        Key::Met => "wedi cwrdd",
        Key::NotMet => "heb gwrdd",
        Key::NotSeen => "heb ei weld",
        Key::NotApplicable => "amherthnasol",
        Key::ReviewTitle => "Gofyn am adolygiad",
        Key::ReviewHow => {
            "Ydych chi'n meddwl bod rhywbeth yma'n anghywir? Gofynnwch am adolygiad. Bydd rhywun na wnaeth eich marcio yn edrych ar y cofnod ac yn eich ateb yma. Gallwch ofyn unwaith."
        }
        Key::ReviewField => "Pa bwynt sydd gennych mewn golwg, a pham?",
        Key::ReviewHint => "1 i 2,000 o nodau.",
        Key::ReviewButton => "Gofyn am adolygiad",
        Key::ReviewEmpty => "Dywedwch pa bwynt sydd gennych mewn golwg a pham. Nid oes dim wedi ei anfon eto.",
        Key::ReviewLong => "Mae hynny'n rhy hir. Defnyddiwch 2,000 o nodau ar y mwyaf. Nid oes dim wedi ei anfon eto.",
        Key::ReviewOver => "Y diwrnod olaf i ofyn am adolygiad oedd {day}.",
        Key::ReviewAsked => {
            "Gwnaethoch ofyn am adolygiad ar {day}. Bydd rhywun na wnaeth eich marcio yn eich ateb yma."
        }
        Key::ReviewWrote => "Beth ysgrifennoch chi",
        Key::ReviewUpheld => "Mae'r adolygiad wedi ei wneud. Mae eich canlyniad yn aros fel yr oedd.",
        Key::ReviewAmended => "Mae'r adolygiad wedi ei wneud. Newidiodd eich canlyniad.",
        Key::ReviewPoints => "Mae'r adolygiad wedi ei wneud. Newidiodd bwyntiau, ond nid y canlyniad.",
        Key::ReviewRead => "Darllenwch yr ateb",
        Key::ReviewBy => "Penderfynodd {name} hyn ar {day}:",
        Key::ReviewFirst => "Eich canlyniad cyntaf oedd: {word}. Llofnododd {name} ef ar {day}.",
        Key::ReviewChanged => "Beth a newidiwyd",
        Key::FromCentre => "Gan eich canolfan",
        Key::NothingSeen => "Ni welwyd cam ar gyfer hyn.",
        Key::WithdrawnTitle => "Cafodd eich adborth ei dynnu'n ôl",
        Key::Withdrawn => {
            "Tynnodd eich canolfan eich adborth yn ôl ar {day}. Gall yr hyn a ddarllenoch yma o'r blaen newid."
        }
        Key::WithdrawnLater => {
            "Cadwch eich dolen a'ch cod. Byddant yn gweithio eto pan fydd eich canolfan yn agor yr adborth. Gofynnwch i'ch canolfan pryd fydd hynny."
        }
        Key::NextPlanned => "Mae eich ymgais nesaf ar {day} am {time}, yn {bay}: {task}.",
        Key::NextNotPlanned => "Nid oes dyddiad newydd wedi ei bennu eto.",
        Key::RoundsPair => "Pâr",
        Key::RoundsRound => "Rownd {number}",
        Key::TestDead => "marw",
        Key::TestOrder => "trefn arall",
        Key::TestLive => "byw",
        Key::TestUnsure => "heb ei weld",
        Key::TestNone => "heb ei brofi",
        Key::RoundsScroll => "Eich profion fel tabl",
        Key::NoCauses => "Nid oes achos cudd yn y bae hwn y gallai profion wrth y pwynt ei ddangos.",
        Key::WouldMiss => "byddai wedi ei golli",
        Key::WouldShow => "dangoswyd",
        Key::Circuit => "Y gylched",
        Key::LaneAuthority => "Caniatâd a chylched",
        Key::LaneSecuring => "Diffodd a chloi",
        Key::LaneEquipment => "Offer",
        Key::LaneProving => "Profi'r dangosydd",
        Key::LaneTesting => "Profi",
        Key::LaneFinishing => "Gorffen",
        Key::KeyBar => "Allwedd",
        Key::PlaceKept => "gyda chi",
        Key::PlaceInLock => "yn y clo",
        Key::PlaceOnBoard => "ar y bwrdd trydan",
        Key::PlaceOnTable => "ar y ford",
        Key::PlaceHandedOver => "gyda rhywun arall",
        Key::MinutesShort => "mun",
        Key::MarkSeen => "gwelwyd",
        Key::MarkNotMet => "yn perthyn i bwynt heb ei gwrdd",
        Key::MarkStruck => "wedi ei dynnu yn ôl",
        Key::MarkSteppedIn => "camodd eich asesydd i mewn",
        Key::OutsideProofs => "prawf y tu allan i ddau brawf da",
        Key::BetweenProofs => "rhwng dau brawf da",
        Key::ClockStopped => "cloc wedi stopio",
        Key::ViewBlocked => "wedi ei guddio",
        Key::TimelineTitle => "Llinell amser eich ymgais",
        Key::TimelineTable => "Y llinell amser fel tabl",
        Key::ColMinute => "Munud",
        Key::ColStage => "Cam",
        Key::ColAct => "Yr hyn a welwyd",
        Key::ColSign => "Arwydd",
        Key::ColFrom => "O",
        Key::ColUntil => "Hyd",
        Key::ColWhat => "Beth a barhaodd",
        Key::AgainstNone => "Nid oes cam yn perthyn i bwynt heb ei gwrdd.",
        Key::NoTests => "Ni wnaethoch brawf.",
        Key::AllInside => "Mae pob prawf rhwng dau brawf da ar y dangosydd.",
        Key::SteppedInToo => "Camodd eich asesydd i mewn.",
        Key::RecordShowsOtherwise => "Mae'r cofnod yn dangos rhywbeth arall",
        Key::RuleMisapplied => "Marciwyd y pwynt trwy ei ddarllen yn anghywir",
        Key::NewEvidence => "Daeth rhywbeth newydd i'r golwg",
        Key::UnfairConditions => "Nid oedd y bae fel y dylai fod",
        Key::RecordedWrongly => "Cafodd ei gofnodi'n anghywir",
        Key::English => "Mae rhannau o'r dudalen hon yn Saesneg.",
    }
}

fn count(what: Counted, form: Category) -> Option<&'static str> {
    use Category::*;
    use Counted::*;
    Some(match (what, form) {
        (ShowSteps, Zero) => "Dim camau i'w dangos",
        (ShowSteps, One | Other) => "Dangos yr {n} cam",
        (ShowSteps, Two) => "Dangos y {n} gam",
        (ShowSteps, Few | Many) => "Dangos y {n} cham",
        (ShowPoints, Zero) => "Dim pwyntiau i'w dangos",
        (ShowPoints, Two) => "Dangos y {n} bwynt",
        (ShowPoints, Few | Many) => "Dangos y {n} phwynt",
        (ShowPoints, _) => "Dangos y {n} pwynt",
        (StepsIn, Zero) => "Ni wnaethoch gam mewn {length}.",
        (StepsIn, One | Other) => "Gwnaethoch {n} cam mewn {length}.",
        (StepsIn, Two) => "Gwnaethoch {n} gam mewn {length}.",
        (StepsIn, Few | Many) => "Gwnaethoch {n} cham mewn {length}.",
        (Against, Zero) => "Nid oes cam yn perthyn i bwynt heb ei gwrdd.",
        (Against, One | Other) => "Mae {n} cam yn perthyn i bwyntiau heb eu cwrdd.",
        (Against, Two) => "Mae {n} gam yn perthyn i bwyntiau heb eu cwrdd.",
        (Against, Few | Many) => "Mae {n} cham yn perthyn i bwyntiau heb eu cwrdd.",
        (Outside, Zero) => "Nid oes prawf y tu allan i ddau brawf da ar y dangosydd.",
        (Outside, One | Other) => "Mae {n} prawf y tu allan i ddau brawf da ar y dangosydd.",
        (Outside, Two) => "Mae {n} brawf y tu allan i ddau brawf da ar y dangosydd.",
        (Outside, Few | Many) => "Mae {n} phrawf y tu allan i ddau brawf da ar y dangosydd.",
        (ShownOf, Zero) => "Nid oes achos cudd i feddwl amdano yma. Byddai eich profion wedi dangos {shown}.",
        (ShownOf, _) => "Mae {n} achos cudd i feddwl amdanynt yma. Byddai eich profion wedi dangos {shown}.",
        (ShowShown, Zero) => "Nid yw eich profion yn dangos dim",
        (ShowShown, _) => "Dangos y {n} y mae eich profion yn eu dangos",
    })
}

fn advise(topic: Topic) -> (&'static str, &'static str) {
    match topic {
        Topic::Circuit => (
            "Os ydych yn diffodd y gylched anghywir, mae'r un rydych yn gweithio arni yn aros yn fyw.",
            "Pwyntiwch at y gylched a'i dyfais ar y bwrdd cyn cyffwrdd â switsh.",
        ),
        Topic::Sources => (
            "Gall pwynt gael ei fwydo o fwy nag un lle. Gall un rydych yn ei anghofio ei gadw'n fyw.",
            "Enwch bob cyflenwad yn uchel cyn diffodd dim.",
        ),
        Topic::Permission => (
            "Efallai bod pobl eraill angen y cyflenwad hwnnw. Gallant gael niwed pan fydd yn diffodd heb air.",
            "Gofynnwch i'r person â gofal ac arhoswch am yr ateb cyn diffodd dim.",
        ),
        Topic::Load => ("Gall dyfais sy'n torri llwyth arcio.", "Diffoddwch y llwyth yn gyntaf, yna'r ddyfais."),
        Topic::OnlyNamed => (
            "Mae pob dyfais yn bwydo rhywun. Gall yr un anghywir stopio pwmp neu larwm.",
            "Darllenwch y label, rhowch fys arno, darllenwch ef eto, yna diffoddwch y ddyfais.",
        ),
        Topic::LockOff => (
            "Gall clo nad yw'n ffitio lithro, ac yna gellir troi'r ddyfais ymlaen.",
            "Rhowch gynnig ar y clo ar y ddyfais a thynnwch arno cyn ei gloi.",
        ),
        Topic::Locked => {
            ("Nid yw clo clap sydd heb ei gau yn dal dim.", "Caewch y clo clap, yna tynnwch arno unwaith.")
        }
        Topic::KeyKept => (
            "Gall pwy bynnag sydd â'r allwedd droi'r cyflenwad ymlaen tra bod eich dwylo i mewn yno.",
            "Rhowch yr allwedd yn eich poced cyn gynted ag y bydd y clo ar gau. Gadewch hi yno.",
        ),
        Topic::Notice => (
            "Mae hysbysiad yn dweud wrth eraill eich bod wrth eich gwaith, a phwy ydych chi.",
            "Llenwch yr hysbysiad a'i hongian ar y ddyfais cyn cerdded i ffwrdd.",
        ),
        Topic::Secured => (
            "Tra byddwch yn profi, gallai rhywun droi'r cyflenwad ymlaen eto.",
            "Diffoddwch, gosodwch y clo a'i gloi. Dim ond wedyn dechreuwch brofi.",
        ),
        Topic::NothingRemoved => (
            "Unwaith y bydd y clo i ffwrdd, gall unrhyw un droi'r cyflenwad ymlaen.",
            "Gadewch y clo a'r hysbysiad yn eu lle nes i chi drosglwyddo.",
        ),
        Topic::Controls => {
            ("Os yw'n dal i gychwyn, rydych wedi diffodd y peth anghywir.", "Ceisiwch ei gychwyn ar ôl i chi ei gloi.")
        }
        Topic::Suitable => (
            "Gall blaenau hir bontio dwy ran. Gall gwifrau gwael neu fesurydd treuliedig ddangos dim ar ran fyw.",
            "Dewiswch ddangosydd dau bolyn â blaenau byr, gardiau a gwifrau da. Gwiriwch ei ddyddiad.",
        ),
        Topic::Inspected => (
            "Gall hollt mewn gwifren neu gard rhydd eich niweidio cyn i chi sylwi.",
            "Edrychwch ar y blaenau, y gardiau a'r gwifrau bob tro y codwch ddangosydd.",
        ),
        Topic::ProvedBefore => (
            "Nid yw dangosydd nad yw'n gweithio yn dangos dim, a'r un modd cylched farw.",
            "Profwch y dangosydd ar uned brofi ychydig cyn y prawf cyntaf.",
        ),
        Topic::ProvedAfter => (
            "Gallai fod wedi stopio gweithio wrth i chi brofi. Yna ni fyddai eich profion yn golygu dim.",
            "Profwch yr un dangosydd eto yn syth ar ôl y prawf olaf.",
        ),
        Topic::Pairs => (
            "Dim ond yn y profion y mae'n rhan ohonynt y mae gwifren fyw yn dangos.",
            "Dywedwch y parau yn uchel wrth brofi, a'u cyfrif.",
        ),
        Topic::RoundsTested => (
            "Gall switsh guddio gwifren fyw. Trowch ef ac mae'r wifren yn fyw eto.",
            "Trowch un switsh, yna profwch bob pâr eto. Gwnewch hynny ar gyfer pob switsh.",
        ),
        Topic::LessDangerous => (
            "Os daw'r wifren fyw yn gyntaf, gall y blaen arall fod yn fyw yn eich llaw.",
            "Rhowch y blaen ar y ddaear yn gyntaf, yna ar y niwtral, yna ar y lein. Tynnwch nhw i ffwrdd y ffordd arall.",
        ),
        Topic::PointClosed => (
            "Gall rhywun gyffwrdd â phwynt agored tra byddwch i ffwrdd ohono.",
            "Caewch y pwynt cyn cerdded at switsh.",
        ),
        Topic::Lamp => (
            "Mae lamp yn cysylltu dwy wifren, felly efallai na fydd eich prawf yn dangos yr hyn a dybiwch.",
            "Tynnwch y lamp allan cyn y prawf cyntaf.",
        ),
        Topic::LiveReading => (
            "Mae darlleniad byw yn golygu ei fod yn fyw, hyd yn oed os nad oeddech yn ei ddisgwyl.",
            "Stopiwch. Dewch o hyd i beth sy'n ei fwydo, diffoddwch hwnnw, a phrofwch bob pâr eto.",
        ),
        Topic::NoTouch => (
            "Nes bod y profion wedi eu gwneud nid ydych yn gwybod bod gwifren yn farw.",
            "Cadwch eich dwylo oddi ar bob gwifren nes i chi brofi'r dangosydd eto.",
        ),
        Topic::DeclaredLast => (
            "Mae eraill yn dechrau gweithio pan ddywedwch chi. Rhaid i'ch gair ddod olaf.",
            "Dywedwch ei fod yn farw dim ond ar ôl y prawf olaf a phrofi'r dangosydd.",
        ),
        Topic::Time => (
            "Mae'r amser yn rhan o'r dasg.",
            "Ymarferwch y camau nes nad oes rhaid i chi feddwl am beth sy'n dod nesaf.",
        ),
        Topic::Prompted => (
            "Yn y gwaith efallai na fydd neb a all eich helpu.",
            "Ymarferwch y camau nes y gallwch eu gwneud ar eich pen eich hun.",
        ),
        Topic::SteppedIn => (
            "Bu'n rhaid i'ch asesydd eich stopio fel na fyddai neb yn cael niwed.",
            "Gofynnwch i'ch asesydd beth a welodd. Gwnewch y cam hwnnw'n araf y tro nesaf.",
        ),
        Topic::ByEye => (
            "Gwelodd eich asesydd hyn a'i farnu â llygad.",
            "Gofynnwch i'ch asesydd ddangos i chi beth yr hoffai ei weld.",
        ),
        Topic::Other => (
            "Mae eich canolfan yn gofyn am hyn yn y dasg hon.",
            "Darllenwch y pwynt eto, yna gwnewch ef yn y drefn honno.",
        ),
    }
}
