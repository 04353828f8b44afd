//! The phrases, in English, Welsh, Polish and Spanish. All but the English ones were made by a machine: a translator has to
//! check them before they are relied on.

use crate::store::centres::Language;

macro_rules! phrases {
    ($($phrase:ident: $english:literal, $welsh:literal, $polish:literal, $spanish:literal;)*) => {
        /// A phrase of an act; what is put in stands in braces.
        #[derive(Debug, Clone, Copy, PartialEq, Eq)]
        pub enum Phrase { $($phrase,)* }

        impl Phrase {
            /// Every phrase.
            #[cfg(test)]
            pub const ALL: &'static [Self] = &[$(Self::$phrase,)*];

            /// The phrase in a language.
            pub fn say(self, language: Language) -> &'static str {
                let all = match self { $(Self::$phrase => [$english, $welsh, $polish, $spanish],)* };
                match language {
                    Language::English => all[0],
                    Language::Welsh => all[1],
                    Language::Polish => all[2],
                    Language::Spanish => all[3],
                }
            }
        }
    };
}

phrases! {
    Started:
        "Started",
        "Wedi dechrau",
        "Początek",
        "Empezó";
    Resumed:
        "Clock started again",
        "Ailgychwynnwyd y cloc",
        "Zegar znowu ruszył",
        "El reloj siguió";
    Paused:
        "Clock stopped: {why}",
        "Stopiwyd y cloc: {why}",
        "Zegar zatrzymany: {why}",
        "Reloj parado: {why}";
    Ended:
        "Ended",
        "Wedi gorffen",
        "Koniec",
        "Terminó";
    EndedEarly:
        "Ended: {why}",
        "Wedi gorffen: {why}",
        "Koniec: {why}",
        "Terminó: {why}";
    Identified:
        "Found {circuit} on {device}",
        "Dod o hyd i {circuit} ar {device}",
        "Odnaleziono {circuit} na {device}",
        "Encontró {circuit} en {device}";
    SourceListed:
        "Named a supply: {source}",
        "Enwi cyflenwad: {source}",
        "Nazwano zasilanie: {source}",
        "Nombró una alimentación: {source}";
    PermissionAsked:
        "Asked for leave to switch off",
        "Gofyn am ganiatâd i ddiffodd",
        "Prośba o zgodę na wyłączenie",
        "Pidió permiso para apagar";
    PermissionGiven:
        "Was given leave",
        "Cafwyd caniatâd",
        "Zgoda udzielona",
        "Recibió permiso";
    Picked:
        "Took {item}",
        "Cymryd {item}",
        "Wzięto: {item}",
        "Cogió {item}";
    Returned:
        "Put back {item}",
        "Rhoi {item} yn ôl",
        "Odłożono: {item}",
        "Devolvió {item}";
    Inspected:
        "Looked over {part} of {item}",
        "Archwilio {part}: {item}",
        "Obejrzano {part}: {item}",
        "Miró {part} de {item}";
    LoadOff:
        "Took the load off {circuit}",
        "Tynnu’r llwyth oddi ar {circuit}",
        "Odłączono obciążenie: {circuit}",
        "Quitó la carga de {circuit}";
    SwitchedOff:
        "Switched off {device}",
        "Diffodd {device}",
        "Wyłączono {device}",
        "Apagó {device}";
    SwitchedOn:
        "Switched on {device}",
        "Troi {device} ymlaen",
        "Włączono {device}",
        "Encendió {device}";
    Fitted:
        "Fitted {item} to {device}",
        "Gosod {item} ar {device}",
        "Założono {item} na {device}",
        "Puso {item} en {device}";
    LockedHolds:
        "Closed {item} on {device} and it holds",
        "Cau {item} ar {device}, ac mae’n dal",
        "Zamknięto {item} na {device}: trzyma",
        "Cerró {item} en {device} y aguanta";
    LockedNot:
        "Closed {item} on {device}: not tried, or it did not hold",
        "Cau {item} ar {device}: heb roi cynnig arno, neu ni ddaliodd",
        "Zamknięto {item} na {device}: bez próby albo nie trzymało",
        "Cerró {item} en {device}: sin probarlo, o no aguantó";
    PostedFilled:
        "Hung {item} on {device}, filled in",
        "Hongian {item} ar {device}, wedi ei lenwi",
        "Powieszono {item} na {device}, wypełnione",
        "Colgó {item} en {device}, relleno";
    PostedEmpty:
        "Hung {item} on {device}, not filled in",
        "Hongian {item} ar {device}, heb ei lenwi",
        "Powieszono {item} na {device}, niewypełnione",
        "Colgó {item} en {device}, sin rellenar";
    KeyKept:
        "{item} kept in person",
        "{item}: gyda’r ymgeisydd",
        "{item}: przy sobie",
        "{item}: consigo";
    KeyInLock:
        "{item} left in the lock",
        "{item}: wedi ei gadael yn y clo",
        "{item}: pozostawiono w kłódce",
        "{item}: dejada en el candado";
    KeyOnBoard:
        "{item} left on the board",
        "{item}: wedi ei gadael ar y bwrdd trydan",
        "{item}: pozostawiono na rozdzielnicy",
        "{item}: dejada en el cuadro";
    KeyOnTable:
        "{item} left on the table",
        "{item}: wedi ei gadael ar y ford",
        "{item}: pozostawiono na stole",
        "{item}: dejada en la mesa";
    KeyHandedOver:
        "{item} handed over",
        "{item}: wedi ei rhoi i rywun",
        "{item}: przekazano",
        "{item}: entregada";
    Removed:
        "Took {item} off {device}",
        "Tynnu {item} oddi ar {device}",
        "Zdjęto {item} z {device}",
        "Quitó {item} de {device}";
    ControlNothing:
        "Tried {what}: nothing happened",
        "Rhoi cynnig ar {what}: ni ddigwyddodd dim",
        "Próba {what}: nic się nie stało",
        "Probó {what}: no pasó nada";
    ControlStarted:
        "Tried {what}: it started",
        "Rhoi cynnig ar {what}: cychwynnodd",
        "Próba {what}: uruchomiło się",
        "Probó {what}: arrancó";
    Proved:
        "Proved {item} {on}: {shows}",
        "Profi {item} {on}: {shows}",
        "Sprawdzono {item} {on}: {shows}",
        "Comprobó {item} {on}: {shows}";
    Opened:
        "Opened {point}",
        "Agor {point}",
        "Otwarto: {point}",
        "Abrió {point}";
    Closed:
        "Closed {point}",
        "Cau {point}",
        "Zamknięto: {point}",
        "Cerró {point}";
    LampOut:
        "Took the lamp out of {point}",
        "Tynnu’r lamp o {point}",
        "Wyjęto żarówkę: {point}",
        "Sacó la lámpara de {point}";
    LampIn:
        "Put the lamp back in {point}",
        "Rhoi’r lamp yn ôl yn {point}",
        "Włożono żarówkę: {point}",
        "Puso la lámpara en {point}";
    Operated:
        "Threw {switch}",
        "Troi {switch}",
        "Przełączono {switch}",
        "Accionó {switch}";
    Tested:
        "Tested {first} then {second}: {reading}",
        "Profi {first} yna {second}: {reading}",
        "Pomiar {first}, potem {second}: {reading}",
        "Probó {first} y luego {second}: {reading}";
    FirstOff:
        "; {first} came off first",
        "; daeth {first} i ffwrdd gyntaf",
        "; najpierw odjęto {first}",
        "; {first} se quitó primero";
    AtPoint:
        "; at {point}",
        "; wrth {point}",
        "; miejsce: {point}",
        "; en {point}";
    WithItem:
        "; with {item}",
        "; gyda {item}",
        "; przyrząd: {item}",
        "; con {item}";
    Touched:
        "Touched a conductor at {point}",
        "Cyffwrdd â dargludydd wrth {point}",
        "Dotknięto przewodu: {point}",
        "Tocó un conductor en {point}";
    Declared:
        "Said that {circuit} is isolated and proved dead",
        "Dweud bod {circuit} wedi ei hynysu a’i phrofi’n farw",
        "Zgłoszono, że {circuit} jest odłączony i sprawdzony",
        "Dijo que {circuit} está aislado y comprobado sin tensión";
    Prompted:
        "Was given help",
        "Cafwyd cymorth",
        "Udzielono pomocy",
        "Recibió ayuda";
    SteppedIn:
        "Assessor stepped in: {why}",
        "Camodd yr asesydd i mewn: {why}",
        "Egzaminator przerwał: {why}",
        "Intervino quien evalúa: {why}";
    PartTips:
        "the tips",
        "y blaenau",
        "końcówki",
        "las puntas";
    PartGuards:
        "the finger guards",
        "gardiau’r bysedd",
        "osłony palców",
        "las protecciones";
    PartLeads:
        "the leads",
        "y gwifrau",
        "przewody",
        "los cables";
    PartBody:
        "the body",
        "y corff",
        "obudowę",
        "el cuerpo";
    PartDate:
        "the date",
        "y dyddiad",
        "datę",
        "la fecha";
    PartRating:
        "the rating",
        "y gradd",
        "dane znamionowe",
        "los valores nominales";
    PartFit:
        "the fit",
        "y ffit",
        "dopasowanie",
        "el ajuste";
    Alarm:
        "alarm",
        "larwm",
        "alarm",
        "alarma";
    Equipment:
        "trouble with equipment",
        "trafferth gydag offer",
        "kłopot ze sprzętem",
        "problema con el equipo";
    Unwell:
        "unwell",
        "yn sâl",
        "złe samopoczucie",
        "malestar";
    OtherReason:
        "another reason",
        "rheswm arall",
        "inny powód",
        "otro motivo";
    UnsafeToGoOn:
        "it was unsafe to go on",
        "nid oedd yn ddiogel parhau",
        "dalsza praca była niebezpieczna",
        "era peligroso seguir";
    LivePart:
        "live part",
        "rhan fyw",
        "część pod napięciem",
        "parte con tensión";
    WrongDevice:
        "wrong device",
        "dyfais anghywir",
        "niewłaściwy aparat",
        "aparato equivocado";
    UnsafeTool:
        "unsafe tool",
        "teclyn anniogel",
        "niebezpieczne narzędzie",
        "herramienta insegura";
    AtHeight:
        "at height",
        "ar uchder",
        "na wysokości",
        "en altura";
    OnProvingUnit:
        "on a proving unit",
        "ar uned brofi",
        "na urządzeniu kontrolnym",
        "en un comprobador";
    OnKnownLive:
        "on a known live supply",
        "ar gyflenwad byw hysbys",
        "na znanym źródle napięcia",
        "en una tensión conocida";
    OnTipsTogether:
        "with its tips together",
        "â’i flaenau ynghyd",
        "ze zwartymi końcówkami",
        "con las puntas juntas";
    OnSelfTest:
        "by its self-test",
        "â’i hunan-brawf",
        "autotestem",
        "con su autoprueba";
    OnOther:
        "in another way",
        "mewn ffordd arall",
        "w inny sposób",
        "de otro modo";
    ShowsAll:
        "all shown",
        "dangoswyd popeth",
        "pokazano wszystko",
        "mostró todo";
    ShowsSome:
        "only some shown",
        "dim ond rhai a ddangoswyd",
        "pokazano tylko część",
        "mostró solo una parte";
    ShowsNothing:
        "nothing shown",
        "ni ddangoswyd dim",
        "nic nie pokazano",
        "no mostró nada";
    ReadsNothing:
        "nothing shown",
        "ni ddangoswyd dim",
        "nic nie pokazano",
        "no mostró nada";
    ReadsLive:
        "live",
        "byw",
        "pod napięciem",
        "con tensión";
    ReadsTripped:
        "the RCD tripped, so live",
        "baglodd yr RCD, felly’n fyw",
        "zadziałał wyłącznik różnicowoprądowy, więc pod napięciem",
        "saltó el diferencial, así que con tensión";
}
