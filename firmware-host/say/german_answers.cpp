// The German sentences of what a command comes to, as the page tells it. german.cpp has the words they use.
#include "firmware-host/say/language.hpp"

namespace hangtrue::say {

namespace {
constexpr Translation kGermanAnswers[] = {
    // Why nothing can be worked out.
    {"The level book cannot be read or written. The computer says more.",
     "Das Messbuch lässt sich nicht lesen oder schreiben. Der Rechner sagt mehr."},
    {"The run as the sheet has it cannot be worked out: something does not hold it. The computer says more.",
     "Die Zeile, wie das Laufblatt sie hat, lässt sich nicht rechnen: etwas hält sie nicht. Der Rechner sagt "
     "mehr."},
    {"The run sheet does not say how level the finished run must be.",
     "Das Laufblatt sagt nicht, wie waagerecht die fertige Zeile sein muss."},
    {"This cannot be worked out from the sheets. The computer says more.",
     "Das lässt sich aus den Blättern nicht ausrechnen. Der Rechner sagt mehr."},
    {"no fit: ", "keine Auswertung: "},
    {"no card: ", "keine Karte: "},
    {"The level book has no survey \"{}\".", "Das Messbuch hat keine Aufnahme „{}“."},
    {"Survey {} cannot be compared with itself.",
     "Aufnahme {} lässt sich nicht mit sich selbst vergleichen."},
    {"Survey {} is later than {}.", "Aufnahme {} ist später als {}."},
    {"Survey {} has no time that can be read.", "Aufnahme {} hat keine lesbare Zeit."},
    {"Survey {} is dated {}, before survey {} of {}, which it follows in the book: a clock was set back, or "
     "was wrong "
     "before.",
     "Aufnahme {} ist vom {}, vor Aufnahme {} vom {}, auf die sie im Messbuch folgt: eine Uhr wurde "
     "zurückgestellt oder "
     "ging vorher falsch."},
    {"The level book lacks the run sheet of survey {}.", "Im Messbuch fehlt das Laufblatt der Aufnahme {}."},
    {"The run sheet {} is of another run than that {}: {}.",
     "Das Laufblatt {} gehört zu einer anderen Zeile als das {}: {}."},
    {"Stage \"{}\" of survey {} is not on the later run sheet.",
     "Der Bauzustand „{}“ der Aufnahme {} steht nicht auf dem späteren Laufblatt."},
    {"Stage \"{}\" of survey {} has other supports than stage \"{}\".",
     "Der Bauzustand „{}“ der Aufnahme {} hat andere Halterungen als der Bauzustand „{}“."},
    {"After the readings of survey {} moves were made by its card ({}): compare with the survey that was "
     "made after them.",
     "Nach den Messungen der Aufnahme {} wurden Schritte ihrer Karte ausgeführt ({}): mit der Aufnahme "
     "danach vergleichen."},
    {"Between the two surveys moves were made by the card of survey {}: compare with a later one.",
     "Zwischen den beiden Aufnahmen wurden Schritte der Karte von Aufnahme {} ausgeführt: mit einer späteren "
     "vergleichen."},
    {"Survey {} has readings at {} places; at least {} are needed.",
     "Aufnahme {} hat Messwerte an {} Orten; mindestens {} sind nötig."},
    {"The level book has no kit sheet of survey {} that can be read.",
     "Das Messbuch hat kein lesbares Messzeugblatt der Aufnahme {}."},
    {"The kit sheet {} does not describe {} as it was read.",
     "Das Messzeugblatt {} beschreibt {} nicht so, wie gemessen wurde."},
    // Where the instruments stand.
    {"\"{}\" is no length with its unit, such as 1200 mm, and the run sheet names no mark",
     "„{}“ ist keine Länge mit Einheit, wie 1200 mm, und das Laufblatt nennt keine Marke"},
    {"\"{}\" is no length with its unit, such as 1200 mm; or a mark of the run sheet: {}",
     "„{}“ ist keine Länge mit Einheit, wie 1200 mm; oder eine Marke des Laufblatts: {}"},
    {"number {}, but the run has stations 1 to {}", "Nummer {}, aber die Zeile hat die Messstellen 1 bis {}"},
    {"{} is off the run, which ends at {}", "{} liegt nicht auf der Zeile, die bei {} endet"},
    {"no station at {}", "keine Messstelle bei {}"},
    {"; the nearest is at {}", "; die nächste liegt bei {}"},
    {", but {} was said by hand, and counts now", ", aber {} wurde von Hand gesagt und gilt jetzt"},
    {", which counts now, but {} was said by hand before",
     ", und das gilt jetzt, aber vorher wurde {} von Hand gesagt"},
    {"{} tells {}", "„{}“ meldet {}"},
    {": see which is right.", ": nachsehen, was stimmt."},
    {"{} tells {} now; look, and take again", "„{}“ meldet jetzt {}; nachsehen und noch einmal messen"},
    {"The program was started anew. Face {} and edge {} are those of the last reading: say where the "
     "instruments stand now.",
     "Das Programm wurde neu gestartet. Lage {} und Kante {} sind die des letzten Messwerts: sagen, wo die "
     "Geräte jetzt "
     "stehen."},
    {"station ", "Messstelle "},
    {", stage {}, survey {}", ", Bauzustand {}, Aufnahme {}"},
    {"{}, set-up {}", "{}, Aufstellung {}"},
    {"{}, face {}, edge {}, set-up {}", "{}, Lage {}, Kante {}, Aufstellung {}"},
    {"not said yet", "noch nicht gesagt"},
    {"as in the kit sheet", "wie im Messzeugblatt"},
    {"\"{}\" is none; the stages are {}", "„{}“ ist keiner; die Bauzustände sind {}"},
    {"there is no plan for this run and kit; say a station",
     "für diese Zeile und dieses Messzeug gibt es keinen Plan; eine Messstelle nennen"},
    {"all places of the plan are read ({})", "alle Orte des Plans sind gemessen ({})"},
    {"; the instruments stand there now: ", "; die Geräte stehen jetzt dort: "},
    // Taking, undoing, correcting.
    {"no instrument that stays where it is speaks", "kein fest stehendes Gerät meldet sich"},
    {"no walking instrument speaks", "kein wanderndes Gerät meldet sich"},
    {"only a distance is read at a mark, and no walking instrument gives one now",
     "an einer Marke wird nur ein Abstand gemessen, und kein wanderndes Gerät gibt gerade einen"},
    {"nothing has settled", "nichts ist zur Ruhe gekommen"},
    {"{} readings at ", "{} Messwerte bei "},
    {"their stations", "ihren Messstellen"},
    {"; not: ", "; nicht: "},
    {"; go on: {}", "; weiter: {}"},
    {"say first where the instruments stand, such as station 1",
     "zuerst sagen, wo die Geräte stehen, etwa Messstelle 1"},
    {"given up", "abgebrochen"},
    {"this program was held up, and another place was typed behind it meanwhile: nobody knows where the "
     "instruments stood; "
     "go there, and take again",
     "das Programm war aufgehalten, und inzwischen wurde ein anderer Ort eingegeben: niemand weiß, wo die "
     "Geräte standen; "
     "dorthin gehen und noch einmal messen"},
    {"no node speaks; only a node keeps readings while this program is not there",
     "kein Messknoten meldet sich; nur ein Messknoten bewahrt Messwerte auf, solange dieses Programm nicht "
     "da ist"},
    {"{} did not hand over all that it keeps; nothing was taken, and it keeps it",
     "„{}“ hat nicht alles übergeben, was es bewahrt; nichts wurde übernommen, und es bewahrt es weiter"},
    {"{} hands over what it keeps", "„{}“ übergibt, was es bewahrt"},
    {"{} readings that were kept, at {} stops", "{} aufbewahrte Messwerte von {} Orten"},
    {"; {} stops were in the book already", "; {} Orte standen schon im Messbuch"},
    {"nothing has been taken in this survey", "in dieser Aufnahme ist noch nichts gemessen"},
    {"{} readings set aside, entries {} to {}", "{} Messwerte ausgelassen, Einträge {} bis {}"},
    {"nothing that counts has been taken in this survey",
     "in dieser Aufnahme ist nichts gemessen, was zählt"},
    {"entry {} is no reading of this survey; readings lists them",
     "Eintrag {} ist kein Messwert dieser Aufnahme"},
    {"only a distance is read at a mark", "an einer Marke wird nur ein Abstand gemessen"},
    {"a distance has no face", "ein Abstand hat keine Lage"},
    {"a mark has no edge", "eine Marke hat keine Kante"},
    {"only a distance has a set-up", "nur ein Abstand hat eine Aufstellung"},
    {"these are of instruments that stay where they are", "diese sind von Geräten, die fest stehen"},
    {"both faces are in it; correct the entries of one face, one by one",
     "beide Lagen sind darin; die Einträge einer Lage einzeln berichtigen"},
    {"entry {} is set aside already: {}", "Eintrag {} ist schon ausgelassen: {}"},
    {"{}, set aside: {}", "{}, ausgelassen: {}"},
    {"entry {} is not set aside", "Eintrag {} ist nicht ausgelassen"},
    {"{}, kept again: {}", "{}, wieder aufgenommen: {}"},
    {"{}: ", "{}: "},
    {"{} to {}, one take of {} readings; the last of them: ",
     "{} bis {}, eine Messung mit {} Werten; der letzte: "},
    {"{} {} {} at {}", "{} {} {} bei {}"},
    {", edge {}", ", Kante {}"},
    {", face {}", ", Lage {}"},
    {", set aside", ", ausgelassen"},
    // Surveys.
    {"nothing has been read in this survey yet", "in dieser Aufnahme ist noch nichts gemessen"},
    {"no earlier survey of stage \"{}\" has readings in this book; recheck and a survey's name takes another",
     "keine frühere Aufnahme des Bauzustands „{}“ hat Messwerte in diesem Messbuch; eine andere wählen"},
    {"there is no survey \"{}\" in {}", "es gibt keine Aufnahme „{}“ in {}"},
    {"survey \"{}\" is the one under way; name an earlier one",
     "Aufnahme „{}“ läuft gerade; eine frühere nennen"},
    {"survey {} is compared with survey {}: ", "Aufnahme {} ist mit Aufnahme {} verglichen: "},
    {"\"{}\" is no support of the run sheet; these are: {}",
     "„{}“ ist keine Halterung des Laufblatts; das sind: {}"},
    {"{} does not hold the run at stage {}", "„{}“ hält die Zeile im Bauzustand {} nicht"},
    {"{} holds both ways and cannot hang free; only one that pushes or pulls alone is asked about",
     "„{}“ hält beidseitig und kann nicht frei hängen; gefragt ist nur nach einer, die nur drückt oder nur "
     "zieht"},
    {"{} bears", "„{}“ trägt"},
    {"{} hangs free", "„{}“ hängt frei"},
    {"the places begin at {}", "die Orte beginnen bei „{}“"},
    {"survey {}: {} {}", "Aufnahme {}: {} {}"},
    {"called", "heißt"},
    {"read by", "gemessen von"},
    {"checked by", "geprüft von"},
    {"entries 1 to {} by entry {}, code {}; write it down away from this computer",
     "Einträge 1 bis {} gesiegelt durch Eintrag {}, Code {}; anderswo als auf diesem Rechner notieren"},
    // Cards and moves.
    {"nothing has been read in this survey; take readings first",
     "in dieser Aufnahme ist nichts gemessen; erst messen"},
    {"the card is in the book", "die Karte ist im Messbuch"},
    {"the card is not in the book, which cannot be written",
     "die Karte ist nicht im Messbuch, das sich nicht schreiben lässt"},
    {"moves of the card are being made, and it must not change meanwhile; give up ends that",
     "Schritte der Karte werden ausgeführt, und sie darf sich solange nicht ändern; abbrechen beendet das"},
    {"moves of the card were made, so what was read before is of another shape; read again begins a new "
     "survey, not made "
     "takes a tick back",
     "Schritte der Karte wurden ausgeführt, was vorher gemessen wurde, gehört also zu einer anderen Form; "
     "neu messen beginnt "
     "eine neue Aufnahme, ein Haken lässt sich zurücknehmen"},
    {"This card cannot be used, since it is not whole: {}. An older program may have stored it. Make no move "
     "by it; read again "
     "makes a new card.",
     "Diese Karte ist nicht zu gebrauchen, sie ist nicht ganz: {}. Vielleicht hat ein älteres Programm sie "
     "gespeichert. Keinen "
     "Schritt danach ausführen; neu messen ergibt eine neue Karte."},
    {"the readings do not hold together: no move is to be made by this card",
     "die Messwerte passen nicht zusammen: nach dieser Karte ist kein Schritt auszuführen"},
    {"this card says read again first", "diese Karte sagt: erst noch einmal messen"},
    {"nothing has been read in this survey", "in dieser Aufnahme ist nichts gemessen"},
    {"the card has no move for this stage", "die Karte hat keinen Schritt für diesen Bauzustand"},
    {"no card is on the job; card puts one there", "es gibt noch keine Karte, nach der gearbeitet wird"},
    {"move {}, but the card has {} move", "Schritt {}, aber die Karte hat {} Schritt"},
    {"move {}, but the card has {} moves", "Schritt {}, aber die Karte hat {} Schritte"},
    {"move {} is ticked as made already", "Schritt {} ist schon abgehakt"},
    {"move {} is not ticked as made", "Schritt {} ist nicht abgehakt"},
    {"move {} is made only when stage \"{}\" begins",
     "Schritt {} kommt erst, wenn der Bauzustand „{}“ beginnt"},
    {", not made after all", ", doch nicht ausgeführt"},
    // What is under watch.
    {" is under watch, and the instruments must stay as they are; watch off ends that",
     " wird beobachtet; die Geräte müssen bleiben, wie sie sind, bis das beendet wird"},
    {"wait until these have settled: ", "warten, bis diese zur Ruhe gekommen sind: "},
    {"no instrument speaks that stands on the run; say first where it stands, such as station 1",
     "kein Gerät auf der Zeile meldet sich; zuerst sagen, wo es steht, etwa Messstelle 1"},
    {"nothing has been read in this survey, so nothing can be predicted",
     "in dieser Aufnahme ist nichts gemessen, darum lässt sich nichts voraussagen"},
    {" begins under watch of {} channels", " wird jetzt an {} Kanälen beobachtet"},
    {"this is the last stage", "das ist der letzte Bauzustand"},
    {"stage {}", "Bauzustand {}"},
    {"moves are not being made; begin moves first",
     "es werden keine Schritte ausgeführt; erst damit beginnen"},
    {"the card has no move {} for this stage", "die Karte hat keinen Schritt {} für diesen Bauzustand"},
    {"move {}: {}, {}", "Schritt {}: {}, {}"},
    {"nothing is under watch", "nichts wird beobachtet"},
    {"off", "beendet"},
    // Guided checks.
    {"a check is under way; next goes on with it, give up ends it",
     "eine Prüfung läuft; sie fortsetzen oder abbrechen"},
    {"say which instrument", "sagen, welches Gerät"},
    {"there is no instrument \"{}\"", "es gibt kein Gerät „{}“"},
    {"; the kit sheet has none that gives {}", "; das Messzeugblatt hat keines für: {}"},
    {"slope or roll", "Längs- oder Querneigung"},
    {"a distance", "Abstand"},
    {"step {} of {}: {}", "Schritt {} von {}: {}"},
    {"no check is under way; check zero, check datum or check scale begins one", "keine Prüfung läuft"},
    {"the check is done; keep puts it in the book, give up leaves it out",
     "die Prüfung ist fertig; behalten schreibt sie ins Messbuch, abbrechen lässt sie weg"},
    {". If it stands still all the same, its unit in the kit sheet is wrong: compare what is read with what "
     "the instrument "
     "shows",
     ". Steht es trotzdem still, ist seine Einheit im Messzeugblatt falsch: vergleichen, was gelesen wird "
     "und was das Gerät "
     "zeigt"},
    {"not in the book: see above. keep puts it in and lets it count all the same; give up leaves it out",
     "nicht im Messbuch: siehe oben. Behalten schreibt sie hinein und lässt sie trotzdem gelten; abbrechen "
     "lässt sie weg"},
    {"no check waits to be kept", "keine Prüfung wartet darauf, behalten zu werden"},
    {"; keep tries again", "; behalten versucht es noch einmal"},
    {"{}: in the book, and counts from now on", "„{}“: im Messbuch, gilt von jetzt an"},
    {"{}: in the book; what it found wrong does not count, see above",
     "„{}“: im Messbuch; was sie als falsch fand, gilt nicht, siehe oben"},
    // The page on which a phone is paired.
    {"Pair this phone", "Dieses Telefon koppeln"},
    {"Not paired yet", "Noch nicht gekoppelt"},
    {"The computer that runs hangtrue shows a pairing code of 8 digits. Type it here, once on each phone.",
     "Der Rechner, auf dem hangtrue läuft, zeigt einen Code mit 8 Ziffern. Hier eingeben, einmal auf jedem "
     "Telefon."},
    {"Pairing code", "Code"},
    {"Pair", "Koppeln"},
    {"This phone is paired already: open the page", "Dieses Telefon ist schon gekoppelt: die Seite öffnen"},
    {"A code has 8 digits. Type all of them.", "Ein Code hat 8 Ziffern. Alle eingeben."},
    {"Too many wrong codes were typed. Wait {}, then try once more. Or have \"pair\" typed at the computer: "
     "it shows a code "
     "that counts once, at once.",
     "Zu viele falsche Codes. {} warten, dann noch einmal. Oder am Rechner „pair“ eingeben lassen: er zeigt "
     "sofort einen Code, "
     "der einmal gilt."},
    {"Too many wrong codes were typed, on other phones too. Have \"pair\" typed at the computer: it shows a "
     "code that counts "
     "once.",
     "Zu viele falsche Codes, auch auf anderen Telefonen. Am Rechner „pair“ eingeben lassen: er zeigt einen "
     "Code, der einmal "
     "gilt."},
    {"That was not the code. Look at the computer, and type it again.",
     "Das war nicht der Code. Am Rechner nachsehen und noch einmal eingeben."},
    {"That was not the code. Wait {}, then try once more. Or have \"pair\" typed at the computer: it shows a "
     "code that counts "
     "once, at once.",
     "Das war nicht der Code. {} warten, dann noch einmal. Oder am Rechner „pair“ eingeben lassen: er zeigt "
     "sofort einen Code, "
     "der einmal gilt."},
    {"second", "Sekunde"},
    {"seconds", "Sekunden"},
    {"minute", "Minute"},
    {"minutes", "Minuten"},
    // Any command.
    {"this program failed at it ({}); the readings were read anew from the book: look whether it was done",
     "das Programm ist daran gescheitert ({}); die Messwerte wurden neu aus dem Messbuch gelesen: nachsehen, "
     "ob es geschehen "
     "ist"},
    {"longer than {} characters", "länger als {} Zeichen"},
    {"empty; help lists what can be said", "leer"},
    {"it came {} after it was pressed, and nothing was done by it; look again, then repeat",
     "es kam {} nach dem Tastendruck an, und nichts ist geschehen; noch einmal hinsehen, dann wiederholen"},
    {"it says that it will be pressed in {}; load the page anew",
     "die Uhr des Telefons geht um {} vor; die Seite neu laden"},
    {"something was changed meanwhile, from another phone or at the computer; look again, then repeat",
     "inzwischen wurde etwas geändert, von einem anderen Telefon oder am Rechner; noch einmal hinsehen, dann "
     "wiederholen"},
    {"ends the program and this page with it; type it at the computer",
     "beendet das Programm und diese Seite mit ihm; am Rechner eingeben"},
    {"a code is shown at the computer alone; type it there",
     "ein Code wird nur am Rechner gezeigt; dort eingeben"},
    {"no check is under way, and nothing is waited for or begun",
     "keine Prüfung läuft, und nichts ist begonnen"},
    {"no place named; a length with its unit, such as station 1200 mm, the number of a listed one, station "
     "4, or the name of a "
     "mark",
     "kein Ort genannt; eine Länge mit Einheit, wie 1200 mm, die Nummer einer Messstelle oder der Name einer "
     "Marke"},
    {"its name is missing, such as set-up 2, or set-up 2 at 4500 mm where the laser stands there",
     "der Name fehlt, etwa 2; oder 2 und der Ort, an dem der Laser steht"},
    {"two stations, such as check datum 300 mm to 3900 mm", "zwei Messstellen, etwa 300 mm und 3900 mm"},
    {"how thick the piece is and how far apart the feet are across the run, such as check scale 5 mm across "
     "120 mm; of a laser "
     "how far apart two places are, such as check scale places 500 mm apart",
     "wie dick das Stück ist und wie weit die Füße quer zur Zeile auseinander stehen, etwa 5 mm und 120 mm; "
     "beim Laser, wie weit "
     "zwei Orte auseinander liegen, etwa 500 mm"},
};
}  // namespace

std::span<const Translation> german_answers() { return kGermanAnswers; }

}  // namespace hangtrue::say
