// The German sentences of the prints: the as-built record and the recheck. german.cpp has the words they use.
//
// Tables    headings of columns are one key, "a|>b": | divides, > and ^ set right and centred.
#include "firmware-host/say/language.hpp"

namespace hangtrue::say {

namespace {
constexpr Translation kGermanRecord[] = {
    // What every print has.
    {"below 0.001", "unter 0,001"},
    {"none", "keine"},
    {" Not engaged, and not drawn: {}.", " Nicht im Eingriff und nicht gezeichnet: {}."},
    {"Level book {}, {} entries up to {} UTC. Each entry carries a SHA-256 hash over the former one's hash "
     "and its own "
     "content. The chain was walked for this report from the first entry to the last: it is whole, and the "
     "file is sound. A "
     "chain cannot show that its end was cut off or that all of it was written anew; a seal noted outside of "
     "the book can.",
     "Messbuch {}, {} Einträge bis {} UTC. Jeder Eintrag trägt einen SHA-256-Wert über den Wert des vorigen "
     "und den eigenen "
     "Inhalt. Für diesen Bericht wurde die Kette vom ersten bis zum letzten Eintrag nachgerechnet: sie ist "
     "ganz, und die Datei "
     "ist heil. Eine Kette kann nicht zeigen, dass ihr Ende abgeschnitten oder alles neu geschrieben wurde; "
     "ein Siegel, "
     "außerhalb des Buchs notiert, kann es."},
    {"Chain.", "Kette."},
    {"Table", "Tabelle"},
    {"Figure", "Bild"},
    {"A drawing, here in words:", "Eine Zeichnung, hier in Worten:"},
    {"{}: lowest {}, highest {}", "{}: am tiefsten {}, am höchsten {}"},
    {"{}: at {}", "{}: bei {}"},
    {"Heights drawn {} times too tall", "Höhen {}-fach überhöht gezeichnet"},
    {"Seals that stand for all of it", "Siegel, die für alles stehen"},
    {">seal|short form|made (UTC)|hash", ">Siegel|Kurzform|gesetzt (UTC)|Hash"},
    {"To be compared later:  hangtrue audit {} --seal \"NUMBER SHORT-FORM\"",
     "Zum späteren Vergleich:  hangtrue audit {} --seal \"NUMMER KURZFORM\""},
    {"NOT SEALED", "NICHT GESIEGELT"},
    {"No seal in the level book stands for what this report says. Seal it (hangtrue seal {}), note number "
     "and short form on "
     "paper or by mail, and make the report again.",
     "Kein Siegel im Messbuch steht für das, was dieser Bericht sagt. Siegeln (hangtrue seal {}), Nummer und "
     "Kurzform auf "
     "Papier oder per Post notieren und den Bericht neu machen."},
    {"Seal {}", "Siegel {}"},
    {"Seal", "Siegel"},
    {"made {} UTC; it stands for the {} entries before it.",
     "gesetzt {} UTC; es steht für die {} Einträge davor."},
    {"The code says: {}", "Der Code sagt: {}"},
    {"Cautions", "Vorsicht"},
    {"Seal and level book", "Siegel und Messbuch"},
    {"NO CALIBRATION STATED", "KEINE KALIBRIERUNG ANGEGEBEN"},
    {"calibrated {}", "kalibriert {}"},
    {"on a date not stated", "ohne Datum"},
    {", due {}", ", fällig {}"},
    {", no certificate named", ", kein Zertifikat genannt"},
    {", certificate {}", ", Zertifikat {}"},
    {"XDR sentences", "XDR-Sätze"},
    {"Modbus RTU, address {}", "Modbus RTU, Adresse {}"},
    {"lines of text", "Textzeilen"},
    {"{} to {}", "{} bis {}"},
    {"Instruments of survey {} (kit sheet {})", "Geräte der Aufnahme {} (Messzeugblatt {})"},
    {"gives|>sigma of one reading|>sigma of zero, unchecked|>feet apart|>range",
     "gibt|>Sigma eines Messwerts|>Sigma des Nullpunkts, ungeprüft|>Fußabstand|>Messbereich"},
    {"yes", "ja"},
    {"no, a later one does", "nein, eine spätere"},
    {"no, it failed", "nein, nicht bestanden"},
    {"zero of {} {}, {} pairs of faces", "Nullpunkt von {} {}, {} Paare von Lagen"},
    {"datum tilt of {}, {} to {}", "Neigung der Bezugsebene von {}, {} bis {}"},
    {"scale of {} {}, by a piece of {}", "Maßstab von {} {}, mit einem Stück von {}"},
    {"scale of {} {}, by two places {} apart", "Maßstab von {} {}, an zwei Orten im Abstand {}"},
    {"The level book holds no kit sheet that can be read for this survey.",
     "Das Messbuch enthält zu dieser Aufnahme kein lesbares Messzeugblatt."},
    {"Checks of the instruments in the level book, up to this survey",
     "Prüfungen der Geräte im Messbuch, bis zu dieser Aufnahme"},
    {">entry|date|what|>found|>\xC2\xB1|>at|counts", ">Eintrag|Datum|was|>gefunden|>\xC2\xB1|>bei|gilt"},
    {"The level book holds no check of these instruments up to this survey: zero errors and the datum's tilt "
     "are known "
     "beforehand only as well as the sheets state, and beyond that from the survey itself (both faces, "
     "several set-ups).",
     "Das Messbuch enthält bis zu dieser Aufnahme keine Prüfung dieser Geräte: Nullpunktfehler und Neigung "
     "der Bezugsebene "
     "sind vorab nur so gut bekannt, wie die Blätter sagen, und darüber hinaus aus der Aufnahme selbst "
     "(beide Lagen, mehrere "
     "Aufstellungen)."},
    {"Not checked.", "Nicht geprüft."},
    {"What to know of the kit", "Was über das Messzeug zu wissen ist"},
    {"In short.", "Kurz gesagt."},
    {"Remarks", "Bemerkungen"},
    {"Supports in the drawings:", "Halterungen in den Zeichnungen:"},
    {"Uncertainty", "Unsicherheit"},
    {"What is stated.", "Was angegeben ist."},
    {"How it is combined.", "Wie sie zusammengesetzt ist."},
    // The recheck.
    {"Recheck", "Nachmessung"},
    {"Causes named, with all of them together", "Genannte Ursachen, alle zusammen gerechnet"},
    {"cause|>change|>sigma|>significance p, corrected|would explain it as well",
     "Ursache|>Änderung|>Sigma|>Signifikanz p, korrigiert|würde es ebenso erklären"},
    {"nothing else", "nichts sonst"},
    {"A support that sank has a negative rise. p: the chance of so large a change where nothing moved, "
     "corrected for looking "
     "at many (Sidak).",
     "Eine gesunkene Halterung hat eine negative Höhe. p: die Wahrscheinlichkeit einer so großen Änderung, "
     "wenn sich nichts "
     "bewegt hat, korrigiert dafür, dass viele angesehen werden (Sidak)."},
    {"What moved", "Was sich bewegt hat"},
    {"Did the run move between the two surveys, beyond what was expected and what instruments and datum "
     "explain?",
     "Hat sich die Zeile zwischen den beiden Aufnahmen bewegt, über das hinaus, was zu erwarten war und was "
     "Geräte und "
     "Bezugsebene erklären?"},
    {"chi-squared {} with {} degrees of freedom, p {}; movement is said below p = {}.",
     "Chi-Quadrat {} bei {} Freiheitsgraden, p {}; von Bewegung ist die Rede unter p = {}."},
    {"All changes together (congruence):", "Alle Änderungen zusammen (Kongruenz):"},
    {"Level as things stand", "Lage, so wie es steht"},
    {"|>earlier|>sigma|>later|>sigma|>allowed", "|>früher|>Sigma|>später|>Sigma|>zulässig"},
    {"level error at the stage surveyed", "Höhenabweichung im aufgenommenen Bauzustand"},
    {"{} at stage \"{}\"", "{} im Bauzustand „{}“"},
    {"cannot be seen with these readings", "mit diesen Messwerten nicht zu sehen"},
    {"NAMED", "GENANNT"},
    {"explained by what is named", "durch das Genannte erklärt"},
    {"no", "nein"},
    {"Every change that was looked for", "Alle Änderungen, nach denen gesucht wurde"},
    {"Each change tested by itself", "Jede Änderung für sich geprüft"},
    {"change|>value|>sigma|>p|>p, corrected|>smallest detectable|finding",
     "Änderung|>Wert|>Sigma|>p|>p, korrigiert|>kleinste erkennbare|Befund"},
    {"Each as if it were the only change. Smallest detectable: a change of that size would be found in {} of "
     "the cases, at a "
     "confidence of {} corrected likewise; a smaller one can have happened unseen. Loads and stiffness as "
     "shares.",
     "Jede, als wäre sie die einzige. Kleinste erkennbare: eine Änderung dieser Größe würde in {} der Fälle "
     "gefunden, bei einer "
     "Sicherheit von {}, ebenso korrigiert; eine kleinere kann unbemerkt geschehen sein. Lasten und "
     "Steifigkeit als Anteile."},
    {"What these two surveys cannot tell apart", "Was diese beiden Aufnahmen nicht unterscheiden können"},
    {"What the run was expected to do by itself", "Was von der Zeile von selbst zu erwarten war"},
    {"Nothing: no part that creeps under lasting load, and no rod that was read at another warmth.",
     "Nichts: kein Teil, der unter bleibender Last kriecht, und keine Stange, die bei anderer Wärme gemessen "
     "wurde."},
    {"Expected drift beside the measured", "Erwartetes Kriechen neben dem gemessenen"},
    {"|>expected|>sigma|>measured share of it|>sigma|finding",
     "|>erwartet|>Sigma|>davon gemessen|>Sigma|Befund"},
    {"lowest point against the outer stations, {} days",
     "tiefster Punkt gegenüber den äußeren Messstellen, {} Tage"},
    {"none expected", "nichts erwartet"},
    {"as expected", "wie erwartet"},
    {"less", "weniger"},
    {"more", "mehr"},
    {"The measured share takes nothing of what was expected for granted. A negative height sinks.",
     "Der gemessene Anteil setzt nichts von dem voraus, was zu erwarten war. Eine negative Höhe sinkt."},
    {"{}, stage \"{}\", {} UTC", "{}, Bauzustand „{}“, {} UTC"},
    {"Earlier survey", "Frühere Aufnahme"},
    {"Later survey", "Spätere Aufnahme"},
    {"Compared", "Verglichen"},
    {"heights, shape, slope and roll", "Höhen, Form, Längs- und Querneigung"},
    {"shape, slope and roll; no heights", "Form, Längs- und Querneigung; keine Höhen"},
    {"Between them", "Dazwischen"},
    {"{} days", "{} Tage"},
    {"Datum, instruments and checks", "Bezugsebene, Geräte und Prüfungen"},
    {"Heights of the two surveys are tied by stable marks off the run that both read: {}. They are taken to "
     "have stayed where "
     "they were, but each is tested as well. Where the laser stood, and how its plane was tilted, is found "
     "anew for every "
     "set-up and plays no part.",
     "Die Höhen der beiden Aufnahmen hängen an festen Marken abseits der Zeile, die beide gemessen haben: "
     "{}. Sie gelten als "
     "unbewegt, aber jede wird auch geprüft. Wo der Laser stand und wie seine Ebene geneigt war, wird für "
     "jede Aufstellung neu "
     "bestimmt und spielt keine Rolle."},
    {"No stable mark off the run that stood was read in both surveys: only what does not depend on the datum "
     "is "
     "compared, that is shape, "
     "slope and roll against the vertical. That one support sank, and that all others rose, is then the "
     "same.",
     "Keine feste Marke abseits der Zeile, die stehen blieb, wurde in beiden Aufnahmen gemessen: verglichen "
     "wird nur, was nicht "
     "von der "
     "Bezugsebene abhängt: Form, Längs- und Querneigung gegen das Lot. Ob eine Halterung gesunken ist oder "
     "alle anderen "
     "gestiegen sind, ist dann dasselbe."},
    {"Datum.", "Bezugsebene."},
    {"Zero errors are found anew in every survey: a zero that drifted in between is no movement of the run.",
     "Nullpunktfehler werden in jeder Aufnahme neu bestimmt: ein Nullpunkt, der dazwischen abgewandert ist, "
     "ist keine Bewegung "
     "der Zeile."},
    {"Zero errors.", "Nullpunktfehler."},
    {"Kit of survey {}, {}", "Messzeug der Aufnahme {}, {}"},
    {"Every sigma in this report is a standard uncertainty u, one standard deviation, as in JCGM 100:2008 "
     "(GUM). The expanded "
     "uncertainty U = k u has the coverage factor k = 2, about 95 %. Bands in the drawings are 95 % bands "
     "(1.96 u). The change "
     "of height at the least certain station has u = {}, U = {}.",
     "Jedes Sigma in diesem Bericht ist eine Standardunsicherheit u, eine Standardabweichung, wie in JCGM "
     "100:2008 (GUM). Die "
     "erweiterte Unsicherheit U = k u hat den Faktor k = 2, etwa 95 %. Bänder in den Zeichnungen sind "
     "95-%-Bänder (1,96 u). Die "
     "Höhenänderung an der unsichersten Messstelle hat u = {}, U = {}."},
    {"The later survey is fitted from what the earlier one taught, with all changes as unknowns; the "
     "uncertainty of each change "
     "follows from the covariance of that fit, correlations included (GUM 5.2). It rests on the stated "
     "uncertainty of the "
     "readings (type B, GUM 4.3), which repeats test (type A, GUM 4.2), and on the run sheet.",
     "Die spätere Aufnahme wird von dem aus gerechnet, was die frühere lehrte, mit allen Änderungen als "
     "Unbekannten; die "
     "Unsicherheit jeder Änderung folgt aus der Kovarianz dieser Auswertung, mit den Korrelationen (GUM "
     "5.2). Sie beruht auf der "
     "angegebenen Unsicherheit der Messwerte (Typ B, GUM 4.3), die Wiederholungen prüfen (Typ A, GUM 4.2), "
     "und auf dem "
     "Laufblatt."},
    {"What the comparison assumes", "Was der Vergleich voraussetzt"},
    {"The same run, with the members, supports and loads of the sheet; loads differ between the surveys only "
     "as the stages say.",
     "Dieselbe Zeile, mit den Bauteilen, Halterungen und Lasten des Laufblatts; die Lasten unterscheiden "
     "sich zwischen den "
     "Aufnahmen nur so, wie die Bauzustände sagen."},
    {"A change happened between the surveys, none while one was read.",
     "Was sich änderte, änderte sich zwischen den Aufnahmen, nichts während einer."},
    {"Readings independent of each other and normal; what was expected of creep and warmth is known to its "
     "stated sigma.",
     "Messwerte unabhängig voneinander und normalverteilt; was von Kriechen und Wärme zu erwarten war, ist "
     "auf das angegebene "
     "Sigma bekannt."},
    {"survey {} to {}", "Aufnahme {} bis {}"},
    {"earlier, survey {}", "früher, Aufnahme {}"},
    {"later, survey {}", "später, Aufnahme {}"},
    {"change, with 95 % band", "Änderung, mit 95-%-Band"},
    {"expected by itself", "von selbst zu erwarten"},
    {"change of roll, with 95 % band", "Änderung der Querneigung, mit 95-%-Band"},
    {", less its mean", ", ohne ihr Mittel"},
    {"Shape before and now, seen from the side.", "Form vorher und jetzt, von der Seite gesehen."},
    {"Change of height{}.", "Höhenänderung{}."},
    {"Change of roll, positive where the left edge rose.",
     "Änderung der Querneigung, positiv, wo die linke Kante stieg."},
    {"Change at the stations, heights in {}{}", "Änderung an den Messstellen, Höhen in {}{}"},
    {">at|>earlier|>later|>change|>sigma|>expected|>change of roll|>sigma",
     ">bei|>früher|>später|>Änderung|>Sigma|>erwartet|>Änderung der Querneigung|>Sigma"},
    {"Before, now and the change", "Vorher, jetzt und die Änderung"},
    {"The two shapes could not be compared.", "Die beiden Formen ließen sich nicht vergleichen."},
    {"trend, with 95 % band", "Trend, mit 95-%-Band"},
    {"{} over the days since the first survey; bars: 95 %.",
     "{}, über den Tagen seit der ersten Aufnahme; Balken: 95 %."},
    {"as found", "wie gefunden"},
    {"limit {}", "Grenze {}"},
    {"from {}", "von {}"},
    {"from before these surveys", "von vor diesen Aufnahmen"},
    {" to {}", " bis {}"},
    {", or never", ", oder nie"},
    {"past it already", "schon überschritten"},
    {"not in sight", "nicht in Sicht"},
    {">a year|>sigma|>p that there is none|>limit|limit reached, days after the first survey",
     ">im Jahr|>Sigma|>p, dass keiner ist|>Grenze|Grenze erreicht, Tage nach der ersten Aufnahme"},
    {"A straight line does not describe these surveys well (p {}): do not extend it.",
     "Eine Gerade beschreibt diese Aufnahmen nicht gut (p {}): nicht verlängern."},
    {"Over all surveys", "Über alle Aufnahmen"},
    // The as-built record.
    {"As-built record", "Aufmaßprotokoll"},
    {"stage \"{}\"", "Bauzustand „{}“"},
    {", as surveyed", ", wie aufgenommen"},
    {", as it is to become", ", wie es werden soll"},
    {"not stated in the sheet", "im Laufblatt nicht angegeben"},
    {"Instruments, calibration and checks", "Geräte, Kalibrierung und Prüfungen"},
    {"Members", "Bauteile"},
    {"member|>from|>to|material|>depth|>bending stiffness EI|carries",
     "Bauteil|>von|>bis|Werkstoff|>Höhe|>Biegesteifigkeit EI|trägt"},
    {"given section", "Querschnitt in Zahlen"},
    {"as one with others", "als Ganzes mit anderen"},
    {"by itself", "für sich"},
    {"Loads", "Lasten"},
    {"load|>mass|>sigma|>lasting share", "Last|>Masse|>Sigma|>bleibender Anteil"},
    {" (own weight)", " (Eigengewicht)"},
    {"couple or warmth", "Moment oder Wärme"},
    {"Stages, in order of the work", "Bauzustände, in der Reihenfolge der Arbeit"},
    {"stage|held by|loads on|surveys", "Bauzustand|gehalten von|Lasten|Aufnahmen"},
    {" (finished)", " (Endzustand)"},
    {"What was hung", "Was aufgehängt wurde"},
    {"Run", "Zeile"},
    {"Length, width", "Länge, Breite"},
    {"Run sheet", "Laufblatt"},
    {"Stations", "Messstellen"},
    {"{}, from {} to {}", "{}, von {} bis {}"},
    {"Moves of that card", "Schritte dieser Karte"},
    {">order|support|move|which is|made", ">Folge|Halterung|Schritt|das ist|ausgeführt"},
    {"yes, marked as made", "ja, als ausgeführt abgehakt"},
    {"not marked as made", "nicht abgehakt"},
    {"Card of survey {} (entry {}{}): ", "Karte der Aufnahme {} (Eintrag {}{}): "},
    {"It cannot be read: {}.", "Sie ist nicht lesbar: {}."},
    {"{} earlier card of survey {} of which no move stands as made: in the level book.",
     "{} frühere Karte der Aufnahme {}, von der kein Schritt als ausgeführt dasteht: im Messbuch."},
    {"{} earlier cards of survey {} of which no move stands as made: in the level book.",
     "{} frühere Karten der Aufnahme {}, von denen kein Schritt als ausgeführt dasteht: im Messbuch."},
    {"The finished level error as things were: {} (sigma {}, chance to be within tolerance {}); after the "
     "moves: {} (sigma {}, "
     "chance {}).",
     "Höhenabweichung im Endzustand, so wie es war: {} (Sigma {}, Wahrscheinlichkeit, in der Toleranz zu "
     "liegen: {}); nach den "
     "Schritten: {} (Sigma {}, Wahrscheinlichkeit {})."},
    {"Moves made and hold-point answers", "Ausgeführte Schritte und Antworten, ob festgezogen werden darf"},
    {"The level book holds no card of this run up to this survey, and no move is marked as made.",
     "Das Messbuch enthält bis zu dieser Aufnahme keine Karte dieser Zeile, und kein Schritt ist abgehakt."},
    {"at {}", "bei {}"},
    {"value {}", "Wert {}"},
    {"face {}", "Lage {}"},
    {"{} edge", "Kante: {}"},
    {"set-up {}", "Aufstellung {}"},
    {"; corrected by entry {}", "; berichtigt durch Eintrag {}"},
    {" (as taken: {})", " (wie gemessen: {})"},
    {"no: {}", "nein: {}"},
    {"Every reading", "Jeder Messwert"},
    {"Readings of survey {}, in the order in which they were taken",
     "Messwerte der Aufnahme {}, in der Reihenfolge der Messung"},
    {">entry|time|by|>at|edge|^face|>value|>sigma|>resi- dual|>norm.|unit|used?",
     ">Eintrag|Zeit|mit|>bei|Kante|^Lage|>Wert|>Sigma|>Rest|>norm.|Einheit|gilt?"},
    {"Residual: value less what the fit predicts, of readings not used as well. Norm.: residual over its own "
     "standard "
     "deviation. In italics: not used. The level book holds the raw samples behind each.",
     "Rest: Wert weniger das, was die Auswertung voraussagt, auch bei nicht verwendeten. Norm.: Rest durch "
     "seine eigene "
     "Standardabweichung. Kursiv: nicht verwendet. Das Messbuch enthält die Rohwerte hinter jedem."},
    {"DO NOT RELY ON THE FIGURES OF THIS RECORD", "AUF DIE ZAHLEN DIESES PROTOKOLLS IST KEIN VERLASS"},
    {"The fit did not settle: the readings contradict each other or the sheet too much.",
     "Die Auswertung kam nicht zur Ruhe: die Messwerte widersprechen einander oder dem Laufblatt zu sehr."},
    {"The readings do not agree with the predicted shape and with each other (chi-squared {} with {} "
     "readings, p {}). The "
     "likelier causes are listed in the section on uncertainty.",
     "Die Messwerte passen nicht zur vorausgesagten Form und nicht zueinander (Chi-Quadrat {} bei {} "
     "Messwerten, p {}). Die "
     "wahrscheinlicheren Ursachen stehen im Abschnitt über die Unsicherheit."},
    {"These readings do not tell how the run stands: read it again.",
     "Diese Messwerte zeigen nicht, wie die Zeile steht: noch einmal messen."},
    {"These readings do not yet tell surely enough how level the run is to be: read it again before any "
     "final bolt is tight.",
     "Diese Messwerte zeigen noch nicht sicher genug, wie waagerecht die Zeile wird: noch einmal messen, "
     "bevor eine Schraube "
     "endgültig fest ist."},
    {"Between its highest and its lowest point the run differs by {}; allowed are {}. The chance that it "
     "keeps to that is {}.",
     "Der höchste und der tiefste Punkt der Zeile liegen um {} auseinander; zulässig sind {}. Die "
     "Wahrscheinlichkeit, dass sie "
     "das einhält, ist {}."},
    {"Once finished and loaded, and left as it is now, the run will differ between its highest and its "
     "lowest point by {}; "
     "allowed are {}. The chance that it keeps to that is {}.",
     "Fertig und belastet, und gelassen wie sie jetzt ist, werden der höchste und der tiefste Punkt der "
     "Zeile um {} "
     "auseinander liegen; zulässig sind {}. Die Wahrscheinlichkeit, dass sie das einhält, ist {}."},
    {"sag of the span {} to {}, {}", "Durchbiegung im Feld {} bis {}, {}"},
    {"span / {}", "Spannweite / {}"},
    {"within", "eingehalten"},
    {"OVER", "ÜBERSCHRITTEN"},
    {"Level and sag beside their limits", "Lage und Durchbiegung neben ihren Grenzen"},
    {"what|>{0}|>sigma {0}|limit|source of the limit|finding",
     "was|>{0}|>Sigma {0}|Grenze|Quelle der Grenze|Befund"},
    {"level error as surveyed, {}", "Höhenabweichung wie aufgenommen, {}"},
    {"for information", "zur Kenntnis"},
    {"level error finished and loaded, {}, as things are",
     "Höhenabweichung fertig und belastet, {}, so wie es ist"},
    {"run sheet, tolerance", "Laufblatt, Toleranz"},
    {"; chance to be within: {}", "; Wahrscheinlichkeit, sie einzuhalten: {}"},
    {"Level error: highest minus lowest of both edges over all stations",
     "Höhenabweichung: höchster weniger tiefster Punkt beider Kanten über alle Messstellen"},
    {"; with the sheet's target height, twice the largest departure from it.",
     "; mit der Sollhöhe des Laufblatts das Doppelte der größten Abweichung davon."},
    {"{}, stage \"{}\", begun {} UTC", "{}, Bauzustand „{}“, begonnen {} UTC"},
    {", not closed", ", nicht abgeschlossen"},
    {"Readings", "Messwerte"},
    {"{} taken, {} set aside by hand, {} by the fit, {} used",
     "{} gemessen, {} von Hand ausgelassen, {} von der Auswertung, {} verwendet"},
    {"Level book", "Messbuch"},
    {"{}, entry {} to {}", "{}, Eintrag {} bis {}"},
    {"Result", "Ergebnis"},
    {"May the final bolts be tightened? As far as level goes, as surveyed:",
     "Dürfen die Schrauben endgültig festgezogen werden? Was die Lage angeht, wie aufgenommen:"},
    {"The run sheet names no level that the finished run must keep to, so that there is neither a finding "
     "nor a card.",
     "Das Laufblatt nennt keine Höhenabweichung, die die fertige Zeile einhalten muss, darum gibt es weder "
     "Befund noch Karte."},
    {"The run sheet that survey {} went by can no longer be read; {} stands in its place.",
     "Das Laufblatt, nach dem Aufnahme {} ging, ist nicht mehr lesbar; {} steht an seiner Stelle."},
    {"The run sheet was changed since survey {}: {}. What counts here is the sheet as it was.",
     "Das Laufblatt wurde seit Aufnahme {} geändert: {}. Hier gilt das Laufblatt, wie es war."},
    {"beyond the support, ", "jenseits der Halterung, "},
    {"lifted: carries nothing", "abgehoben: trägt nichts"},
    {"none stated", "keine angegeben"},
    {"Sag beside its limit", "Durchbiegung neben ihrer Grenze"},
    {"The run could not be solved at what was fitted.",
     "Die Zeile ließ sich mit dem Ausgewerteten nicht rechnen."},
    {"Sag of each span below the line between its supports",
     "Durchbiegung jedes Feldes unter der Linie zwischen seinen Halterungen"},
    {"span|>sheet {0}|>fitted {0}|>span / sag|limit|source of the limit|finding",
     "Feld|>Laufblatt {0}|>ausgewertet {0}|>Spannweite / Durchbiegung|Grenze|Quelle der Grenze|Befund"},
    {"Sag as fitted includes bow and what supports that stand high or low bend into the span; beyond the "
     "last support it is "
     "how far the end lies below that support, so that tilt counts; a negative one rises. The largest "
     "standard uncertainty of "
     "a height, less the mean, is {}.",
     "Die ausgewertete Durchbiegung enthält die Krümmung und was zu hoch oder zu tief stehende Halterungen "
     "ins Feld biegen; "
     "jenseits der letzten Halterung ist sie, wie weit das Ende unter dieser Halterung liegt, die Neigung "
     "zählt also mit; eine "
     "negative steigt. Die größte Standardunsicherheit einer Höhe, ohne das Mittel, ist {}."},
    {"What the supports carry", "Was die Halterungen tragen"},
    {"Forces on the run, up positive", "Kräfte auf die Zeile, nach oben positiv"},
    {"|support|>sheet|>fitted|>couple|>torque|>rating|>of rating",
     "|Halterung|>Laufblatt|>ausgewertet|>Biegemoment|>Drehmoment|>zulässig|>ausgenutzt"},
    {"Found from shape, stiffness and loads, not weighed; shown to help, no design verification. Couple: "
     "positive in the sense "
     "of a climbing run; torque: positive where it lifts the left edge.",
     "Aus Form, Steifigkeit und Lasten errechnet, nicht gewogen; als Hilfe gezeigt, kein "
     "Standsicherheitsnachweis. Biegemoment: "
     "positiv im Sinn einer steigenden Zeile; Drehmoment: positiv, wo es die linke Kante hebt."},
    {"not said", "nicht gesagt"},
    {"No distance was read.", "Kein Abstand wurde gemessen."},
    {"Set-ups.", "Aufstellungen."},
    {"Set-ups of the laser datum", "Aufstellungen des Lasers"},
    {"set-up|>stands at|>distances read|>datum height|>sigma|>datum tilt|>sigma",
     "Aufstellung|>steht bei|>Abstände gemessen|>Höhe der Bezugsebene|>Sigma|>Neigung der "
     "Bezugsebene|>Sigma"},
    {"Heights are above the run's mean height, tilts positive where the plane climbs along the run; both are "
     "unknowns of the "
     "fit, so that where a laser stood does not matter. The sigma of a datum height includes the common "
     "height.",
     "Höhen über der mittleren Höhe der Zeile, Neigungen positiv, wo die Ebene an der Zeile entlang steigt; "
     "beide sind "
     "Unbekannte der Auswertung, wo ein Laser stand, ist also gleich. Das Sigma der Höhe enthält die "
     "gemeinsame Höhe."},
    {"Readings by channel", "Messwerte nach Kanal"},
    {"channel|>taken|>used|>set aside by hand|>beyond the gate|>largest normalised residual, used",
     "Kanal|>gemessen|>verwendet|>von Hand ausgelassen|>zu weit entfernt|>größter normierter Rest, "
     "verwendet"},
    {"Every reading with its residual is listed in the last section.",
     "Jeder Messwert mit seinem Rest steht im letzten Abschnitt."},
    {"Set-ups and readings", "Aufstellungen und Messwerte"},
    {"Notes made on the job", "Notizen von der Baustelle"},
    {"fitted height less its mean, with 95 % band", "ausgewertete Höhe ohne ihr Mittel, mit 95-%-Band"},
    {"fitted roll, with 95 % band", "ausgewertete Querneigung, mit 95-%-Band"},
    {"distance readings, with 95 % bars", "Abstandsmessungen, mit 95-%-Balken"},
    {"roll readings, with 95 % bars", "Querneigungen, mit 95-%-Balken"},
    {"set aside", "ausgelassen"},
    {"set aside by the gate", "als zu weit entfernt ausgelassen"},
    {"tolerance {}", "Toleranz {}"},
    {"Shape as surveyed, {}, seen from the side.", "Form wie aufgenommen, {}, von der Seite gesehen."},
    {"Finished and loaded, {}, as things are.", "Fertig und belastet, {}, so wie es ist."},
    {"Roll, positive where the left edge is high.", "Querneigung, positiv, wo die linke Kante hoch ist."},
    {"Shape at the stations, {} (roll: {})", "Form an den Messstellen, {} (Querneigung: {})"},
    {">at|>height|>sigma|>left edge|>right edge|>roll|>sigma|>of it tilt and height|>bent by "
     "supports|>sag|>bow|>to come",
     ">bei|>Höhe|>Sigma|>linke Kante|>rechte Kante|>Quer- neigung|>Sigma|>davon Neigung und Höhe|>von Halte- "
     "rungen "
     "gebogen|>Durch- biegung|>Krüm- mung|>kommt noch"},
    {"Heights are less their mean over the stations; sigma is one standard deviation of that. Tilt is what "
     "shims cure, sag they "
     "do not; bow is as made; to come is what later stages add.",
     "Höhen ohne ihr Mittel über die Messstellen; Sigma ist eine Standardabweichung davon. Neigung behebt "
     "das Unterlegen, "
     "Durchbiegung nicht; die Krümmung kommt aus der Fertigung; was noch kommt, bringen spätere "
     "Bauzustände."},
    {"Normalised residuals of the readings along the run; the gate is at \xC2\xB1 4.",
     "Normierte Reste der Messwerte an der Zeile entlang; die Grenze liegt bei \xC2\xB1 4."},
    {"gate", "Grenze"},
    {"Shape", "Form"},
    {", pulled home", ", angezogen"},
    {"both ways", "beidseitig"},
    {"pushes only", "drückt nur"},
    {"pulls only", "zieht nur"},
    {"shims from \"{}\"", "Unterlegbleche aus „{}“"},
    {"rod, {} a turn, steps of {}", "Gewindestange, {} je Umdrehung, Stufen von {}"},
    {"lift, steps of {}", "Hubgerät, Stufen von {}"},
    {"nothing", "nichts"},
    {"{}, {} left", "{}, {} links"},
    {"{}, {} right", "{}, {} rechts"},
    {"Supports", "Halterungen"},
    {"|support|>at|>rise|>pitch|>roll|holds|adjusted by|>rating",
     "|Halterung|>bei|>Höhe|>Längsneigung|>Querneigung|hält|verstellt durch|>zulässig"},
    {"Stable marks off the run", "Feste Marken abseits der Zeile"},
    {"mark|>at|>height found|>sigma|>readings", "Marke|>bei|>gefundene Höhe|>Sigma|>Messwerte"},
    {"not read", "nicht gemessen"},
    {"Heights are above the run's mean height; sigma includes the common height of run and marks.",
     "Höhen über der mittleren Höhe der Zeile; Sigma enthält die gemeinsame Höhe von Zeile und Marken."},
    {"Supports and stable marks", "Halterungen und feste Marken"},
    {"The run sheet names none. Without one, a later recheck can compare shape, slope and roll, but not "
     "heights.",
     "Das Laufblatt nennt keine. Ohne eine kann eine spätere Nachmessung Form, Längs- und Querneigung "
     "vergleichen, aber keine "
     "Höhen."},
    {"Stable marks.", "Feste Marken."},
    {"Results", "Ergebnisse"},
    {"result|>value|>u|>U (k = 2)", "Ergebnis|>Wert|>u|>U (k = 2)"},
    {"level error finished and loaded, as things are", "Höhenabweichung fertig und belastet, so wie es ist"},
    {"height at a station, less the mean: the least certain station",
     "Höhe an einer Messstelle, ohne das Mittel: die unsicherste"},
    {"roll at a station: the least certain station", "Querneigung an einer Messstelle: die unsicherste"},
    {"see the table of stations", "siehe Tabelle der Messstellen"},
    {"The level error is a difference of extremes and not quite normal: its u is that of {} draws from the "
     "fitted distribution, "
     "and so is the chance to be within tolerance.",
     "Die Höhenabweichung ist ein Unterschied von Extremen und nicht ganz normalverteilt: ihr u ist das von "
     "{} Ziehungen aus der "
     "ausgewerteten Verteilung, ebenso die Wahrscheinlichkeit, die Toleranz einzuhalten."},
    {"one reading, {}", "ein Messwert, {}"},
    {"kit sheet (certificate or maker's statement)",
     "Messzeugblatt (Zertifikat oder Angabe des Herstellers)"},
    {"    the same, from repeats", "    dasselbe, aus Wiederholungen"},
    {"{} degrees of freedom; {}, p {}", "{} Freiheitsgrade; {}, p {}"},
    {"not tested", "nicht geprüft"},
    {"as stated", "wie angegeben"},
    {"larger than stated", "größer als angegeben"},
    {"zero error, {}", "Nullpunktfehler, {}"},
    {"zero check of {}, and how well it keeps", "Nullpunktprüfung vom {}, und wie gut er hält"},
    {"kit sheet; then both faces", "Messzeugblatt; dann beide Lagen"},
    {"What goes in", "Was eingeht"},
    {"input|>stated u|^type|evaluated from", "Eingang|>angegebenes u|^Typ|bestimmt aus"},
    {"tilt of the laser datum", "Neigung der Laserebene"},
    {"run sheet, and the datum check", "Laufblatt und Prüfung der Bezugsebene"},
    {"run sheet", "Laufblatt"},
    {"stiffness, springs, loads, bow, supports", "Steifigkeit, Federn, Lasten, Krümmung, Halterungen"},
    {"see above", "siehe oben"},
    {"run sheet and, where there are, earlier surveys", "Laufblatt und, wo es sie gibt, frühere Aufnahmen"},
    {"Every sigma in this record is a standard uncertainty u, one standard deviation, as in JCGM 100:2008 "
     "(GUM). The expanded "
     "uncertainty U = k u has the coverage factor k = 2, which for a nearly normal distribution covers about "
     "95 %. Bands in the "
     "drawings are 95 % bands (1.96 u).",
     "Jedes Sigma in diesem Protokoll ist eine Standardunsicherheit u, eine Standardabweichung, wie in JCGM "
     "100:2008 (GUM). Die "
     "erweiterte Unsicherheit U = k u hat den Faktor k = 2, der bei einer annähernden Normalverteilung etwa "
     "95 % abdeckt. Bänder "
     "in den Zeichnungen sind 95-%-Bänder (1,96 u)."},
    {"Readings and what was assumed are fitted together by weighted least squares to the shape that beam "
     "theory predicts; the "
     "uncertainty of every result follows from the covariance of that fit, correlations included (GUM 5.2). "
     "Repeats (type A, "
     "GUM 4.2) test the stated uncertainties (type B, GUM 4.3); they do not replace them.",
     "Messwerte und Annahmen werden zusammen nach gewichteten kleinsten Quadraten an die Form angepasst, die "
     "die Balkentheorie "
     "voraussagt; die Unsicherheit jedes Ergebnisses folgt aus der Kovarianz dieser Auswertung, mit den "
     "Korrelationen (GUM 5.2). "
     "Wiederholungen (Typ A, GUM 4.2) prüfen die angegebenen Unsicherheiten (Typ B, GUM 4.3); sie ersetzen "
     "sie nicht."},
    {"What the model assumes", "Was das Modell voraussetzt"},
    {"A straight run that bends and turns elastically by small amounts (bending with shear, torsion with "
     "warping); members, "
     "springs and loads as in the run sheet, each with the uncertainty stated there.",
     "Eine gerade Zeile, die sich elastisch und wenig biegt und verdreht (Biegung mit Schub, Verdrehung mit "
     "Verwölben); "
     "Bauteile, Federn und Lasten wie im Laufblatt, jeweils mit der dort angegebenen Unsicherheit."},
    {"Readings independent of each other and normal; a zero error that stays the same during a survey; a "
     "laser datum that is a "
     "plane.",
     "Messwerte unabhängig voneinander und normalverteilt; ein Nullpunktfehler, der während einer Aufnahme "
     "gleich bleibt; eine "
     "Laserebene, die eben ist."},
    {"Nothing moves and no load changes while a survey is read. Warmth bends the run only where the sheet "
     "says so.",
     "Nichts bewegt sich und keine Last ändert sich während einer Aufnahme. Wärme biegt die Zeile nur, wo "
     "das Laufblatt es sagt."},
    {"chi-squared {} with {} readings used, p {}; largest normalised residual {}. ",
     "Chi-Quadrat {} bei {} verwendeten Messwerten, p {}; größter normierter Rest {}. "},
    {"The fit holds: readings, predicted shape and stated uncertainties agree.",
     "Die Auswertung hält: Messwerte, vorausgesagte Form und angegebene Unsicherheiten passen zueinander."},
    {"The fit does NOT hold: the uncertainties stated here are too small, or something is not as assumed.",
     "Die Auswertung hält NICHT: die hier angegebenen Unsicherheiten sind zu klein, oder etwas ist nicht wie "
     "angenommen."},
    {"The fit's test of itself:", "Wie die Auswertung sich selbst prüft:"},
    {"Likelier causes", "Wahrscheinlichere Ursachen"},
    {">weight|cause", ">Gewicht|Ursache"},
    {"all that lasts", "alles, was bleibt"},
    {"all that lasts, but where supports stand: some were moved",
     "alles, was bleibt, außer wo Halterungen stehen: einige wurden verstellt"},
    {"does not hold", "hält nicht"},
    {"Surveys of this run, in order", "Aufnahmen dieser Zeile, der Reihe nach"},
    {"survey|stage|begun (UTC)|>readings used|fit|went into the next",
     "Aufnahme|Bauzustand|begonnen (UTC)|>Messwerte verwendet|Auswertung|ging in die nächste ein"},
    {"Sigma of what lasts, survey by survey", "Sigma dessen, was bleibt, Aufnahme für Aufnahme"},
    {"what|>before, sigma", "was|>vorher, Sigma"},
    {"after {}", "nach {}"},
    {"found at last", "zuletzt gefunden"},
    {"Stiffness, springs, loads, bow, zero errors and heights of stable marks last from survey to survey; "
     "where supports stand "
     "lasts until one is moved; where the laser stood never does.",
     "Steifigkeit, Federn, Lasten, Krümmung, Nullpunktfehler und Höhen fester Marken bleiben von Aufnahme zu "
     "Aufnahme; wo "
     "Halterungen stehen, bleibt, bis eine verstellt wird; wo der Laser stand, bleibt nie."},
    {"What was assumed and what was measured", "Was angenommen und was gemessen ist"},
    {"Unknowns of the fit of survey {}", "Unbekannte der Auswertung von Aufnahme {}"},
    {"what|>assumed|>sigma|>found|>sigma|>learned", "was|>angenommen|>Sigma|>gefunden|>Sigma|>gelernt"},
    {"Learned: the share of the variance assumed beforehand that the readings took away. In italics: less "
     "than 5 %, an "
     "assumption and no measurement. A sigma of a support's rise includes the common height of run and "
     "datum, which no reading "
     "without a stable mark knows.",
     "Gelernt: der Anteil der vorher angenommenen Varianz, den die Messwerte weggenommen haben. Kursiv: "
     "weniger als 5 %, eine "
     "Annahme und keine Messung. Das Sigma der Höhe einer Halterung enthält die gemeinsame Höhe von Zeile "
     "und Bezugsebene, die "
     "ohne feste Marke kein Messwert kennt."},
    {"What each survey taught", "Was jede Aufnahme lehrte"},
};
}  // namespace

std::span<const Translation> german_record() { return kGermanRecord; }

}  // namespace hangtrue::say
