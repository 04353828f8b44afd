//! Polish. Made by a machine: a translator has to check it before it is relied on.

use super::plural::Category;
use super::{Catalogue, Counted, Key, Topic};

pub(super) const CATALOGUE: Catalogue = Catalogue {
    tag: "pl",
    say,
    advise,
    count,
    // In the genitive, as in a date.
    months: [
        "stycznia",
        "lutego",
        "marca",
        "kwietnia",
        "maja",
        "czerwca",
        "lipca",
        "sierpnia",
        "września",
        "października",
        "listopada",
        "grudnia",
    ],
    date: "{day} {month} {year}",
    decimal: ',',
};

fn say(key: Key) -> &'static str {
    match key {
        Key::Title => "Twoja informacja zwrotna",
        Key::Skip => "Przejdź do treści",
        Key::Footer => {
            "To informacja zwrotna ze szkolenia. Nie jest zezwoleniem na pracę. W pracy stosuj miejscowe zasady i pytaj osobę wykwalifikowaną."
        }
        Key::LanguageLabel => "Język",
        Key::AskLead => "Wpisz kod, który dał Ci egzaminator.",
        Key::CodeLabel => "Kod",
        Key::CodeHint => "Osiem liter i cyfr. Odstępy i małe litery nie mają znaczenia.",
        Key::CodeRefused => {
            "Ten link i ten kod niczego nie otwierają. Sprawdź kod. Po pięciu błędnych kodach link zostaje zablokowany; wtedy poproś egzaminatora o nowy."
        }
        Key::Open => "Otwórz moją informację zwrotną",
        Key::Code => "Kod zapisu: {code}",
        Key::EndedTitle => "Otwórz link jeszcze raz",
        Key::Ended => {
            "Informacja zwrotna jest otwarta przez pół godziny naraz. Otwórz link od egzaminatora i wpisz kod."
        }
        Key::NotYetTitle => "Twojej informacji zwrotnej jeszcze tu nie ma",
        Key::NotYet => "Ośrodek jeszcze jej nie otworzył. Zachowaj link i kod. Możesz ich użyć ponownie później.",
        Key::NotYetUntil => "Otworzy się {day} o {time}.",
        Key::NotYetTold => "Najpierw ktoś powie Ci o wyniku osobiście. Potem się otworzy.",
        Key::Passed => "Wynik jest pozytywny.",
        Key::NotPassed => "Tym razem wynik nie jest pozytywny.",
        Key::NotFinished => "Twoja próba nie została ukończona.",
        Key::About => "{name}, to Twoja informacja zwrotna o zadaniu: {task}. Podpisano ją {day}.",
        Key::OfficialWord => "Oficjalne słowo to:",
        Key::Pass => "zaliczone",
        Key::Fail => "niezaliczone",
        Key::AutomaticFail => "automatycznie niezaliczone",
        Key::Unfinished => "nieukończone",
        Key::NextTitle => "Co dalej",
        Key::NextPassed => "Ośrodek przechowuje ten wynik. Nie musisz robić nic więcej.",
        Key::NextNotPassed => {
            "Możesz spróbować jeszcze raz. Najpierw popracuj nad punktami poniżej, potem poproś ośrodek o nowy termin."
        }
        Key::NextNotFinished => "Poproś ośrodek o nowy termin. To, co już zrobiono, jest wymienione poniżej.",
        Key::OpenUntil => "Tę stronę możesz otwierać do {day}.",
        Key::ReviewUntil => "O ponowne sprawdzenie możesz prosić do {day}.",
        Key::ChangeFirst => "Co zmienić najpierw",
        Key::DoBetter => "Co zrobić lepiej",
        Key::Seen => "Co zauważono",
        Key::Why => "Dlaczego to ważne",
        Key::NextTime => "Następnym razem",
        Key::Minute => "Minuta {minute}",
        Key::WentWell => "Co poszło dobrze",
        Key::At => "minuta {minute}",
        Key::Steps => "Co robiłeś lub robiłaś, minuta po minucie",
        Key::Rounds => "Twoje pomiary, runda po rundzie",
        Key::Missed => "Czego Twoje pomiary by nie wykryły",
        Key::MissedLead => {
            "Punkt może wyglądać na odłączony, a być pod napięciem. Oto, co pokazałyby Twoje pomiary w każdym przypadku."
        }
        Key::Points => "Każdy oceniony punkt",
        Key::Marks => "{marks} z {of} punktów ({percent} %)",
        Key::Met => "spełnione",
        Key::NotMet => "niespełnione",
        Key::NotSeen => "nie zauważono",
        Key::NotApplicable => "nie dotyczy",
        Key::ReviewTitle => "Poproś o ponowne sprawdzenie",
        Key::ReviewHow => {
            "Myślisz, że coś tu jest błędne? Poproś o ponowne sprawdzenie. Ktoś, kto Cię nie oceniał, obejrzy zapis i odpowie Ci tutaj. Możesz poprosić raz."
        }
        Key::ReviewField => "O który punkt chodzi i dlaczego?",
        Key::ReviewHint => "Od 1 do 2000 znaków.",
        Key::ReviewButton => "Poproś o ponowne sprawdzenie",
        Key::ReviewEmpty => "Napisz, o który punkt chodzi i dlaczego. Nic jeszcze nie wysłano.",
        Key::ReviewLong => "To za długie. Użyj najwyżej 2000 znaków. Nic jeszcze nie wysłano.",
        Key::ReviewOver => "Ostatnim dniem na prośbę o ponowne sprawdzenie był {day}.",
        Key::ReviewAsked => "Prośba o ponowne sprawdzenie wpłynęła {day}. Ktoś, kto Cię nie oceniał, odpowie Ci tutaj.",
        Key::ReviewWrote => "Co zostało napisane",
        Key::ReviewUpheld => "Sprawdzenie jest zakończone. Twój wynik pozostaje bez zmian.",
        Key::ReviewAmended => "Sprawdzenie jest zakończone. Zmieniło ono Twój wynik.",
        Key::ReviewPoints => "Sprawdzenie jest zakończone. Zmieniło punkty, ale nie wynik.",
        Key::ReviewRead => "Przeczytaj odpowiedź",
        Key::ReviewBy => "Decyzja: {name}, {day}.",
        Key::ReviewFirst => "Twój pierwszy wynik to: {word}. Podpis: {name}, {day}.",
        Key::ReviewChanged => "Co zmieniono",
        Key::FromCentre => "Od Twojego ośrodka",
        Key::NothingSeen => "Nie zauważono żadnego kroku w tym celu.",
        Key::WithdrawnTitle => "Twoja informacja zwrotna została wycofana",
        Key::Withdrawn => "Ośrodek wycofał Twoją informację zwrotną {day}. To, co było tu wcześniej, może się zmienić.",
        Key::WithdrawnLater => {
            "Zachowaj link i kod. Zadziałają znowu, gdy ośrodek otworzy informację zwrotną. Zapytaj ośrodek, kiedy to będzie."
        }
        Key::NextPlanned => "Następna próba: {day}, godzina {time}, miejsce {bay}: {task}.",
        Key::NextNotPlanned => "Nowy termin nie jest jeszcze ustalony.",
        Key::RoundsPair => "Para",
        Key::RoundsRound => "Runda {number}",
        Key::TestDead => "brak napięcia",
        Key::TestOrder => "inna kolejność",
        Key::TestLive => "pod napięciem",
        Key::TestUnsure => "nie zauważono",
        Key::TestNone => "nie zmierzono",
        Key::RoundsScroll => "Twoje pomiary jako tabela",
        Key::NoCauses => "To stanowisko nie ma ukrytej przyczyny, którą mogłyby wykryć pomiary w punkcie.",
        Key::WouldMiss => "pozostałoby niewykryte",
        Key::WouldShow => "wykryte",
        Key::Circuit => "Obwód",
        Key::LaneAuthority => "Zgoda i obwód",
        Key::LaneSecuring => "Wyłączenie i blokada",
        Key::LaneEquipment => "Sprzęt",
        Key::LaneProving => "Sprawdzanie wskaźnika",
        Key::LaneTesting => "Pomiary",
        Key::LaneFinishing => "Zakończenie",
        Key::KeyBar => "Klucz",
        Key::PlaceKept => "przy Tobie",
        Key::PlaceInLock => "pozostawiony w kłódce",
        Key::PlaceOnBoard => "pozostawiony na rozdzielnicy",
        Key::PlaceOnTable => "pozostawiony na stole",
        Key::PlaceHandedOver => "przekazany",
        Key::MinutesShort => "min.",
        Key::MarkSeen => "zauważono",
        Key::MarkNotMet => "dotyczy punktu niespełnionego",
        Key::MarkStruck => "wycofano",
        Key::MarkSteppedIn => "egzaminator przerwał",
        Key::OutsideProofs => "pomiar bez dwóch dobrych sprawdzeń",
        Key::BetweenProofs => "między dwoma dobrymi sprawdzeniami",
        Key::ClockStopped => "zegar zatrzymany",
        Key::ViewBlocked => "widok zasłonięty",
        Key::TimelineTitle => "Oś czasu Twojej próby",
        Key::TimelineTable => "Oś czasu jako tabela",
        Key::ColMinute => "Minuta",
        Key::ColStage => "Etap",
        Key::ColAct => "Co zauważono",
        Key::ColSign => "Znak",
        Key::ColFrom => "Od",
        Key::ColUntil => "Do",
        Key::ColWhat => "Co trwało",
        Key::AgainstNone => "Żaden krok nie dotyczy punktu niespełnionego.",
        Key::NoTests => "Nie było żadnego pomiaru.",
        Key::AllInside => "Każdy pomiar leży między dwoma dobrymi sprawdzeniami.",
        Key::SteppedInToo => "Egzaminator przerwał próbę.",
        Key::RecordShowsOtherwise => "Zapis pokazuje coś innego",
        Key::RuleMisapplied => "Punkt oceniono według błędnego odczytania",
        Key::NewEvidence => "Wyszło na jaw coś nowego",
        Key::UnfairConditions => "Stanowisko nie było takie, jak powinno",
        Key::RecordedWrongly => "Zapisano to błędnie",
        Key::English => "Niektóre części tej strony są po angielsku.",
    }
}

fn count(what: Counted, form: Category) -> Option<&'static str> {
    use Category::*;
    use Counted::*;
    Some(match (what, form) {
        (_, Zero | Two) => return None,
        (ShowSteps, One) => "Pokaż {n} krok",
        (ShowSteps, Few) => "Pokaż {n} kroki",
        (ShowSteps, Many) => "Pokaż {n} kroków",
        (ShowSteps, Other) => "Pokaż {n} kroku",
        (ShowPoints, One) => "Pokaż {n} punkt",
        (ShowPoints, Few) => "Pokaż {n} punkty",
        (ShowPoints, Many) => "Pokaż {n} punktów",
        (ShowPoints, Other) => "Pokaż {n} punktu",
        (StepsIn, One) => "{n} krok w czasie {length}.",
        (StepsIn, Few) => "{n} kroki w czasie {length}.",
        (StepsIn, Many) => "{n} kroków w czasie {length}.",
        (StepsIn, Other) => "{n} kroku w czasie {length}.",
        (Against, One) => "{n} krok dotyczy punktu niespełnionego.",
        (Against, Few) => "{n} kroki dotyczą punktów niespełnionych.",
        (Against, Many) => "{n} kroków dotyczy punktów niespełnionych.",
        (Against, Other) => "{n} kroku dotyczy punktów niespełnionych.",
        (Outside, One) => "{n} pomiar leży poza dwoma dobrymi sprawdzeniami.",
        (Outside, Few) => "{n} pomiary leżą poza dwoma dobrymi sprawdzeniami.",
        (Outside, Many) => "{n} pomiarów leży poza dwoma dobrymi sprawdzeniami.",
        (Outside, Other) => "{n} pomiaru leży poza dwoma dobrymi sprawdzeniami.",
        (ShownOf, One) => "Jest tu {n} ukryta przyczyna. Liczba wykrytych przez Twoje pomiary: {shown}.",
        (ShownOf, Few) => "Są tu {n} ukryte przyczyny. Liczba wykrytych przez Twoje pomiary: {shown}.",
        (ShownOf, Many) => "Jest tu {n} ukrytych przyczyn. Liczba wykrytych przez Twoje pomiary: {shown}.",
        (ShownOf, Other) => "Jest tu {n} ukrytej przyczyny. Liczba wykrytych przez Twoje pomiary: {shown}.",
        (ShowShown, _) => "Pokaż wykryte: {n}",
    })
}

fn advise(topic: Topic) -> (&'static str, &'static str) {
    match topic {
        Topic::Circuit => (
            "Jeśli wyłączysz zły obwód, ten, przy którym pracujesz, zostaje pod napięciem.",
            "Wskaż obwód i jego aparat w rozdzielnicy, zanim dotkniesz łącznika.",
        ),
        Topic::Sources => (
            "Punkt może być zasilany z więcej niż jednego miejsca. Jedno zapomniane wystarczy, by był pod napięciem.",
            "Nazwij głośno każde zasilanie, zanim cokolwiek wyłączysz.",
        ),
        Topic::Permission => (
            "Inni mogą potrzebować tego zasilania. Mogą ucierpieć, gdy zniknie bez słowa.",
            "Zapytaj osobę odpowiedzialną i poczekaj na odpowiedź, zanim cokolwiek wyłączysz.",
        ),
        Topic::Load => {
            ("Aparat, który przerywa obciążenie, może wywołać łuk.", "Najpierw wyłącz odbiornik, potem aparat.")
        }
        Topic::OnlyNamed => (
            "Każdy aparat kogoś zasila. Zły może zatrzymać pompę lub alarm.",
            "Przeczytaj opis, połóż na nim palec, przeczytaj jeszcze raz, potem wyłącz.",
        ),
        Topic::LockOff => (
            "Blokada, która nie pasuje, może się zsunąć i wtedy aparat da się włączyć.",
            "Przymierz blokadę do aparatu i pociągnij za nią, zanim ją zamkniesz.",
        ),
        Topic::Locked => ("Niezamknięta kłódka niczego nie trzyma.", "Zamknij kłódkę, a potem raz za nią pociągnij."),
        Topic::KeyKept => (
            "Kto ma klucz, może włączyć zasilanie, gdy masz ręce w środku.",
            "Włóż klucz do kieszeni, gdy tylko kłódka jest zamknięta. Zostaw go tam.",
        ),
        Topic::Notice => (
            "Tabliczka mówi innym, że pracujesz i kim jesteś.",
            "Wypełnij tabliczkę i powieś ją na aparacie, zanim odejdziesz.",
        ),
        Topic::Secured => (
            "Gdy mierzysz, ktoś może znów włączyć zasilanie.",
            "Wyłącz, załóż blokadę i zamknij ją. Dopiero potem zacznij mierzyć.",
        ),
        Topic::NothingRemoved => (
            "Gdy nie ma kłódki, każdy może włączyć zasilanie.",
            "Zostaw kłódkę i tabliczkę na miejscu aż do przekazania.",
        ),
        Topic::Controls => {
            ("Jeśli nadal się uruchamia, wyłączono nie to, co trzeba.", "Spróbuj to uruchomić po założeniu kłódki.")
        }
        Topic::Suitable => (
            "Długie końcówki mogą zewrzeć dwie części. Złe przewody lub zużyty miernik mogą nic nie pokazać.",
            "Wybierz dwubiegunowy wskaźnik z krótkimi końcówkami, osłonami i dobrymi przewodami. Sprawdź datę.",
        ),
        Topic::Inspected => (
            "Nacięty przewód lub luźna osłona może Cię zranić, zanim to zauważysz.",
            "Obejrzyj końcówki, osłony i przewody za każdym razem, gdy bierzesz wskaźnik.",
        ),
        Topic::ProvedBefore => (
            "Wskaźnik, który nie działa, nic nie pokazuje, tak samo jak obwód bez napięcia.",
            "Sprawdź wskaźnik na urządzeniu kontrolnym tuż przed pierwszym pomiarem.",
        ),
        Topic::ProvedAfter => (
            "Mógł przestać działać podczas pomiarów. Wtedy Twoje pomiary nic by nie znaczyły.",
            "Sprawdź ten sam wskaźnik jeszcze raz zaraz po ostatnim pomiarze.",
        ),
        Topic::Pairs => (
            "Przewód pod napięciem widać tylko w pomiarach, w których bierze udział.",
            "Mów pary głośno podczas pomiarów i licz je.",
        ),
        Topic::RoundsTested => (
            "Łącznik może ukryć przewód pod napięciem. Przełącz go, a przewód znów jest pod napięciem.",
            "Przełącz jeden łącznik, potem zmierz każdą parę jeszcze raz. Zrób tak z każdym łącznikiem.",
        ),
        Topic::LessDangerous => (
            "Jeśli zaczniesz od przewodu pod napięciem, druga końcówka w Twojej ręce może być pod napięciem.",
            "Przyłóż końcówkę najpierw do ochronnego, potem do neutralnego, potem do fazy. Zdejmuj odwrotnie.",
        ),
        Topic::PointClosed => {
            ("Ktoś może dotknąć otwartego punktu, gdy Cię nie ma.", "Zamknij punkt, zanim pójdziesz do łącznika.")
        }
        Topic::Lamp => (
            "Żarówka łączy dwa przewody, więc pomiar może nie pokazać tego, co myślisz.",
            "Wyjmij żarówkę przed pierwszym pomiarem.",
        ),
        Topic::LiveReading => (
            "Wskazanie napięcia znaczy, że jest napięcie, nawet jeśli się go nie spodziewasz.",
            "Przerwij. Znajdź, co to zasila, wyłącz to i zmierz każdą parę jeszcze raz.",
        ),
        Topic::NoTouch => (
            "Dopóki pomiary nie są zrobione, nie wiesz, czy przewód jest bez napięcia.",
            "Nie dotykaj żadnego przewodu, dopóki znów nie sprawdzisz wskaźnika.",
        ),
        Topic::DeclaredLast => (
            "Inni zaczynają pracę na Twoje słowo. Musi ono paść na końcu.",
            "Powiedz, że nie ma napięcia, dopiero po ostatnim pomiarze i sprawdzeniu wskaźnika.",
        ),
        Topic::Time => ("Czas jest częścią zadania.", "Ćwicz kroki, aż nie będziesz musieć myśleć, co jest następne."),
        Topic::Prompted => ("W pracy może nie być nikogo, kto Ci pomoże.", "Ćwicz kroki, aż zrobisz je bez pomocy."),
        Topic::SteppedIn => (
            "Egzaminator musiał Cię zatrzymać, żeby nikomu nic się nie stało.",
            "Zapytaj egzaminatora, co zauważył. Następnym razem zrób ten krok powoli.",
        ),
        Topic::ByEye => {
            ("Egzaminator widział to i ocenił na oko.", "Poproś egzaminatora, by pokazał, co chciałby zobaczyć.")
        }
        Topic::Other => {
            ("Ośrodek wymaga tego w tym zadaniu.", "Przeczytaj ten punkt jeszcze raz i zrób to w tej kolejności.")
        }
    }
}
