//! Spanish. Made by a machine: a translator has to check it before it is relied on.

use super::plural::Category;
use super::{Catalogue, Counted, Key, Topic};

pub(super) const CATALOGUE: Catalogue = Catalogue {
    tag: "es",
    say,
    advise,
    count,
    months: [
        "enero",
        "febrero",
        "marzo",
        "abril",
        "mayo",
        "junio",
        "julio",
        "agosto",
        "septiembre",
        "octubre",
        "noviembre",
        "diciembre",
    ],
    date: "{day} de {month} de {year}",
    decimal: ',',
};

fn say(key: Key) -> &'static str {
    match key {
        Key::Title => "Tus comentarios",
        Key::Skip => "Ir al contenido",
        Key::Footer => {
            "Son comentarios sobre una formación. No son un permiso de trabajo. En el trabajo, sigue las normas locales y pregunta a una persona competente."
        }
        Key::LanguageLabel => "Idioma",
        Key::AskLead => "Escribe el código que te dio quien te evaluó.",
        Key::CodeLabel => "Código",
        Key::CodeHint => "Ocho letras y cifras. No importan los espacios ni las minúsculas.",
        Key::CodeRefused => {
            "Ese enlace y ese código no abren nada. Revisa el código. Tras cinco códigos equivocados el enlace se bloquea; pide entonces uno nuevo."
        }
        Key::Open => "Abrir mis comentarios",
        Key::Code => "Código del registro: {code}",
        Key::EndedTitle => "Abre tu enlace otra vez",
        Key::Ended => {
            "Tus comentarios quedan abiertos media hora cada vez. Abre el enlace que te dieron y escribe el código."
        }
        Key::NotYetTitle => "Tus comentarios aún no están aquí",
        Key::NotYet => "Tu centro aún no los ha abierto. Guarda tu enlace y tu código. Puedes usarlos más tarde.",
        Key::NotYetUntil => "Se abren el {day} a las {time}.",
        Key::NotYetTold => "Primero alguien te lo dirá en persona. Después se abren.",
        Key::Passed => "Has aprobado.",
        Key::NotPassed => "Esta vez no has aprobado.",
        Key::NotFinished => "Tu intento no se terminó.",
        Key::About => "{name}, estos son tus comentarios sobre: {task}. Se firmaron el {day}.",
        Key::OfficialWord => "La palabra oficial es:",
        Key::Pass => "apto",
        Key::Fail => "no apto",
        Key::AutomaticFail => "no apto automático",
        Key::Unfinished => "sin terminar",
        Key::NextTitle => "Qué pasa ahora",
        Key::NextPassed => "Tu centro guarda este resultado. No tienes que hacer nada más.",
        Key::NextNotPassed => {
            "Puedes intentarlo otra vez. Trabaja primero los puntos de abajo y luego pide a tu centro otra fecha."
        }
        Key::NextNotFinished => "Pide a tu centro otra fecha. Lo que hiciste hasta ahora está abajo.",
        Key::OpenUntil => "Puedes abrir esta página hasta el {day}.",
        Key::ReviewUntil => "Puedes pedir una revisión hasta el {day}.",
        Key::ChangeFirst => "Qué cambiar primero",
        Key::DoBetter => "Qué hacer mejor",
        Key::Seen => "Qué se vio",
        Key::Why => "Por qué importa",
        Key::NextTime => "La próxima vez",
        Key::Minute => "Minuto {minute}",
        Key::WentWell => "Qué salió bien",
        Key::At => "en el minuto {minute}",
        Key::Steps => "Qué hiciste, minuto a minuto",
        Key::Rounds => "Tus pruebas, ronda a ronda",
        Key::Missed => "Qué no habrían visto tus pruebas",
        Key::MissedLead => {
            "Un punto puede parecer sin tensión y tenerla. Esto es lo que tus pruebas habrían mostrado en cada caso."
        }
        Key::Points => "Cada punto evaluado",
        Key::Marks => "{marks} de {of} puntos ({percent} %)",
        Key::Met => "cumplido",
        Key::NotMet => "no cumplido",
        Key::NotSeen => "no visto",
        Key::NotApplicable => "no aplicable",
        Key::ReviewTitle => "Pide una revisión",
        Key::ReviewHow => {
            "¿Crees que algo aquí está mal? Pide una revisión. Alguien que no te evaluó mirará el registro y te responderá aquí. Puedes pedirla una vez."
        }
        Key::ReviewField => "¿Qué punto es y por qué?",
        Key::ReviewHint => "De 1 a 2000 caracteres.",
        Key::ReviewButton => "Pedir una revisión",
        Key::ReviewEmpty => "Di qué punto es y por qué. Aún no se ha enviado nada.",
        Key::ReviewLong => "Es demasiado largo. Usa como mucho 2000 caracteres. Aún no se ha enviado nada.",
        Key::ReviewOver => "El último día para pedir una revisión fue el {day}.",
        Key::ReviewAsked => "Pediste una revisión el {day}. Alguien que no te evaluó te responderá aquí.",
        Key::ReviewWrote => "Lo que escribiste",
        Key::ReviewUpheld => "La revisión está hecha. Tu resultado queda como estaba.",
        Key::ReviewAmended => "La revisión está hecha. Ha cambiado tu resultado.",
        Key::ReviewPoints => "La revisión está hecha. Ha cambiado puntos, pero no el resultado.",
        Key::ReviewRead => "Lee la respuesta",
        Key::ReviewBy => "{name} lo decidió el {day}:",
        Key::ReviewFirst => "Tu primer resultado fue: {word}. Lo firmó {name} el {day}.",
        Key::ReviewChanged => "Qué se cambió",
        Key::FromCentre => "De tu centro",
        Key::NothingSeen => "No se vio ningún paso para esto.",
        Key::WithdrawnTitle => "Tus comentarios se han retirado",
        Key::Withdrawn => "Tu centro retiró tus comentarios el {day}. Lo que leíste aquí antes puede cambiar.",
        Key::WithdrawnLater => {
            "Guarda tu enlace y tu código. Sirven otra vez cuando tu centro abra los comentarios. Pregunta a tu centro cuándo será."
        }
        Key::NextPlanned => "Tu próximo intento es el {day} a las {time}, en {bay}: {task}.",
        Key::NextNotPlanned => "Aún no hay otra fecha.",
        Key::RoundsPair => "Par",
        Key::RoundsRound => "Ronda {number}",
        Key::TestDead => "sin tensión",
        Key::TestOrder => "otro orden",
        Key::TestLive => "con tensión",
        Key::TestUnsure => "no visto",
        Key::TestNone => "sin probar",
        Key::RoundsScroll => "Tus pruebas como tabla",
        Key::NoCauses => "Este puesto no tiene ninguna causa oculta que se vea con pruebas en el punto.",
        Key::WouldMiss => "no se habría visto",
        Key::WouldShow => "visto",
        Key::Circuit => "El circuito",
        Key::LaneAuthority => "Permiso y circuito",
        Key::LaneSecuring => "Apagar y bloquear",
        Key::LaneEquipment => "Equipo",
        Key::LaneProving => "Comprobar el detector",
        Key::LaneTesting => "Pruebas",
        Key::LaneFinishing => "Final",
        Key::KeyBar => "Llave",
        Key::PlaceKept => "contigo",
        Key::PlaceInLock => "dejada en el candado",
        Key::PlaceOnBoard => "dejada en el cuadro",
        Key::PlaceOnTable => "dejada en la mesa",
        Key::PlaceHandedOver => "entregada",
        Key::MinutesShort => "min",
        Key::MarkSeen => "visto",
        Key::MarkNotMet => "va con un punto no cumplido",
        Key::MarkStruck => "anulado",
        Key::MarkSteppedIn => "intervino quien te evaluó",
        Key::OutsideProofs => "prueba sin dos comprobaciones",
        Key::BetweenProofs => "entre dos comprobaciones buenas",
        Key::ClockStopped => "reloj parado",
        Key::ViewBlocked => "vista tapada",
        Key::TimelineTitle => "Línea de tiempo de tu intento",
        Key::TimelineTable => "La línea de tiempo como tabla",
        Key::ColMinute => "Minuto",
        Key::ColStage => "Fase",
        Key::ColAct => "Qué se vio",
        Key::ColSign => "Signo",
        Key::ColFrom => "De",
        Key::ColUntil => "A",
        Key::ColWhat => "Qué duró",
        Key::AgainstNone => "Ningún paso va con un punto no cumplido.",
        Key::NoTests => "No hiciste ninguna prueba.",
        Key::AllInside => "Cada prueba está entre dos comprobaciones buenas.",
        Key::SteppedInToo => "Intervino quien te evaluó.",
        Key::RecordShowsOtherwise => "El registro muestra otra cosa",
        Key::RuleMisapplied => "El punto se evaluó según una lectura equivocada",
        Key::NewEvidence => "Apareció algo nuevo",
        Key::UnfairConditions => "El puesto no estaba como debía",
        Key::RecordedWrongly => "Se anotó mal",
        Key::English => "Algunas partes de esta página están en inglés.",
    }
}

fn count(what: Counted, form: Category) -> Option<&'static str> {
    use Category::*;
    use Counted::*;
    Some(match (what, form) {
        (_, Zero | Two | Few) => return None,
        (ShowSteps, One) => "Ver el {n} paso",
        (ShowSteps, Many) => "Ver los {n} de pasos",
        (ShowSteps, Other) => "Ver los {n} pasos",
        (ShowPoints, One) => "Ver el {n} punto",
        (ShowPoints, Many) => "Ver los {n} de puntos",
        (ShowPoints, Other) => "Ver los {n} puntos",
        (StepsIn, One) => "Diste {n} paso en {length}.",
        (StepsIn, Many) => "Diste {n} de pasos en {length}.",
        (StepsIn, Other) => "Diste {n} pasos en {length}.",
        (Against, One) => "{n} paso va con un punto no cumplido.",
        (Against, Many) => "{n} de pasos van con puntos no cumplidos.",
        (Against, Other) => "{n} pasos van con puntos no cumplidos.",
        (Outside, One) => "{n} prueba está fuera de dos comprobaciones buenas.",
        (Outside, Many) => "{n} de pruebas están fuera de dos comprobaciones buenas.",
        (Outside, Other) => "{n} pruebas están fuera de dos comprobaciones buenas.",
        (ShownOf, One) => "Aquí hay {n} causa oculta posible. Tus pruebas habrían mostrado {shown}.",
        (ShownOf, Many) => "Aquí hay {n} de causas ocultas posibles. Tus pruebas habrían mostrado {shown}.",
        (ShownOf, Other) => "Aquí hay {n} causas ocultas posibles. Tus pruebas habrían mostrado {shown}.",
        (ShowShown, _) => "Ver lo que tus pruebas muestran: {n}",
    })
}

fn advise(topic: Topic) -> (&'static str, &'static str) {
    match topic {
        Topic::Circuit => (
            "Si apagas el circuito equivocado, el tuyo sigue con tensión.",
            "Señala el circuito y su aparato en el cuadro antes de tocar un interruptor.",
        ),
        Topic::Sources => (
            "Un punto puede recibir tensión de más de un lugar. Uno que olvides basta para dejarlo con tensión.",
            "Di en voz alta cada alimentación antes de apagar nada.",
        ),
        Topic::Permission => (
            "Otras personas pueden necesitar esa alimentación. Pueden hacerse daño si se va sin aviso.",
            "Pregunta a la persona responsable y espera la respuesta antes de apagar nada.",
        ),
        Topic::Load => {
            ("Un aparato que corta una carga puede hacer arco.", "Apaga primero la carga y luego el aparato.")
        }
        Topic::OnlyNamed => (
            "Cada aparato alimenta a alguien. El equivocado puede parar una bomba o una alarma.",
            "Lee la etiqueta, pon un dedo en ella, léela otra vez y apaga.",
        ),
        Topic::LockOff => (
            "Un bloqueo que no encaja puede soltarse, y entonces el aparato se puede encender.",
            "Prueba el bloqueo en el aparato y tira de él antes de cerrarlo.",
        ),
        Topic::Locked => ("Un candado que no está cerrado no sujeta nada.", "Cierra el candado y tira de él una vez."),
        Topic::KeyKept => (
            "Quien tiene la llave puede encender mientras tus manos están dentro.",
            "Guarda la llave en el bolsillo en cuanto el candado esté cerrado. Déjala ahí.",
        ),
        Topic::Notice => (
            "Un cartel dice a los demás que estás trabajando y quién eres.",
            "Rellena el cartel y cuélgalo en el aparato antes de irte.",
        ),
        Topic::Secured => (
            "Mientras pruebas, alguien podría encender otra vez.",
            "Apaga, pon el bloqueo y ciérralo. Solo entonces empieza a probar.",
        ),
        Topic::NothingRemoved => (
            "Sin el candado, cualquiera puede encender.",
            "Deja el candado y el cartel en su sitio hasta que lo entregues.",
        ),
        Topic::Controls => ("Si aún arranca, has apagado lo que no era.", "Intenta arrancarlo después de bloquearlo."),
        Topic::Suitable => (
            "Las puntas largas pueden unir dos partes. Unos cables malos pueden no mostrar nada con tensión.",
            "Elige un detector de dos polos con puntas cortas, protecciones y buenos cables. Mira su fecha.",
        ),
        Topic::Inspected => (
            "Un corte en un cable o una protección floja puede herirte antes de que lo notes.",
            "Mira puntas, protecciones y cables cada vez que cojas un detector.",
        ),
        Topic::ProvedBefore => (
            "Un detector que no funciona no muestra nada, igual que un circuito sin tensión.",
            "Comprueba el detector en un comprobador justo antes de la primera prueba.",
        ),
        Topic::ProvedAfter => (
            "Pudo dejar de funcionar mientras probabas. Entonces tus pruebas no dirían nada.",
            "Comprueba el mismo detector otra vez justo después de la última prueba.",
        ),
        Topic::Pairs => (
            "Un hilo con tensión solo se ve en las pruebas en las que está.",
            "Di los pares en voz alta al probar, y cuéntalos.",
        ),
        Topic::RoundsTested => (
            "Un interruptor puede ocultar un hilo con tensión. Acciónalo y el hilo vuelve a tenerla.",
            "Acciona un interruptor y prueba otra vez cada par. Hazlo con cada interruptor.",
        ),
        Topic::LessDangerous => (
            "Si el hilo con tensión va primero, la otra punta puede tener tensión en tu mano.",
            "Pon la punta primero en tierra, luego en neutro y luego en fase. Quítalas al revés.",
        ),
        Topic::PointClosed => {
            ("Alguien puede tocar un punto abierto mientras no estás.", "Cierra el punto antes de ir a un interruptor.")
        }
        Topic::Lamp => (
            "Una lámpara une dos hilos, así que tu prueba puede no mostrar lo que crees.",
            "Quita la lámpara antes de la primera prueba.",
        ),
        Topic::LiveReading => (
            "Una lectura con tensión dice que hay tensión, aunque no la esperes.",
            "Para. Busca qué lo alimenta, apágalo y prueba otra vez cada par.",
        ),
        Topic::NoTouch => (
            "Hasta acabar las pruebas no sabes si un hilo está sin tensión.",
            "No toques ningún hilo hasta comprobar otra vez el detector.",
        ),
        Topic::DeclaredLast => (
            "Otros empiezan a trabajar cuando tú lo dices. Tu palabra va al final.",
            "Di que no hay tensión solo tras la última prueba y la última comprobación.",
        ),
        Topic::Time => {
            ("El tiempo es parte de la tarea.", "Practica los pasos hasta que no tengas que pensar en el siguiente.")
        }
        Topic::Prompted => {
            ("En el trabajo puede que nadie pueda ayudarte.", "Practica los pasos hasta que puedas hacerlos sin ayuda.")
        }
        Topic::SteppedIn => (
            "Quien te evaluó tuvo que pararte para que nadie se hiciera daño.",
            "Pregunta a quien te evaluó qué vio. La próxima vez haz ese paso despacio.",
        ),
        Topic::ByEye => {
            ("Quien te evaluó lo vio y lo juzgó a ojo.", "Pide a quien te evaluó que te muestre lo que querría ver.")
        }
        Topic::Other => ("Tu centro lo pide en esta tarea.", "Lee el punto otra vez y hazlo en ese orden."),
    }
}
